"""The device in hand, kept over reruns, pages and reloads: in the session and in the address."""

from __future__ import annotations

import streamlit as st

from triage.app_pages.draft import DEMO, EMPTY, Draft
from triage.app_pages.literal import literal
from triage.app_pages.shop_counter import read_unit
from triage.domain.units import Unit
from triage.errors import InputError, TriageError
from triage.workflows.shop import Shop


def keep(draft: Draft) -> None:
    """Make a draft the one the pages answer, in the address too: it survives a reload."""
    state = st.session_state
    code = "" if draft == DEMO else draft.code
    state["device-draft"], state["device-code"] = draft, code
    state["device-turn"] = state.get("device-turn", -1) + 1
    if code:
        st.query_params["device"] = code
    else:
        st.query_params.pop("device", None)


def current_draft() -> Draft:
    """The draft of this session, or of the address when that has changed (reload, Back)."""
    code = st.query_params.get("device", "")
    if st.session_state.get("device-code") != code:
        keep((Draft.from_code(code) or DEMO) if code else DEMO)
    return st.session_state["device-draft"]


def address() -> dict[str, str]:
    """What a link to another page carries, so that it answers the same device."""
    code = st.session_state.get("device-code", "")
    return {"device": code} if code else {}


def read(draft: Draft, shop: Shop) -> tuple[Unit | None, InputError | None]:
    """Read a draft's description: the unit, or what is wrong with it, or neither when it is empty."""
    if draft == EMPTY:
        return None, None
    try:
        return read_unit(draft.toml, "the description", shop), None
    except InputError as refusal:
        return None, refusal


def listed(refusal: TriageError) -> str:
    """Each fault of a refusal on a line of its own."""
    return "\n".join(f"- {literal(line)}" for line in str(refusal).splitlines())
