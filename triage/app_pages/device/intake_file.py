"""A description from a file or pasted, and the present one as a file to keep."""

from __future__ import annotations

from dataclasses import replace

import streamlit as st

from triage.app_pages.shared.current_device import begin
from triage.app_pages.shared.draft import EMPTY, Draft
from triage.app_pages.shared.literal import literal
from triage.app_pages.shared.shop_counter import read_unit
from triage.errors import InputError
from triage.workflows.shop.shop import Shop


def from_file_part(draft: Draft, shop: Shop) -> None:
    """A description from a file or pasted, and this one as a file to keep."""
    turn = st.session_state["device-turn"]
    file = st.file_uploader("Device file (DEVICE.toml)", type="toml", key=f"device-{turn}-file")
    pasted = st.text_area("Or paste its text", key=f"device-{turn}-paste", height=140)
    with st.container(horizontal=True):
        wanted = st.button("Load device and get the verdict", type="primary", key=f"device-{turn}-read")
        if draft != EMPTY:
            st.download_button(
                "Download this device", draft.toml, "device.toml", "application/toml",
                key=f"device-{turn}-save", on_click="ignore",
            )  # fmt: skip
    if not wanted:
        return
    name = file.name if file else "the pasted text"
    try:
        text = file.getvalue().decode("utf-8-sig") if file else pasted
        read_unit(text, name, shop)
    except UnicodeDecodeError:
        st.error(f"{literal(name)} is not UTF-8 text. Choose a TOML file.")
    except InputError as refusal:
        show_faults(refusal)
    else:
        begin(replace(draft, toml=text))
        st.rerun()
    if draft != EMPTY:
        st.caption("Nothing was loaded. The device above has not changed.")


def show_faults(refusal: InputError) -> None:
    """List every fault, each as the command line words it."""
    st.error("\n".join(f"- {literal(str(fault))}" for fault in refusal.faults))
