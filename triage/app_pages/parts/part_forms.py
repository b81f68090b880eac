"""What the forms of the parts page share: keys, the act on the record, the choice of a part, what it fits."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import streamlit as st

from triage.app_pages.shared.current_device import listed
from triage.app_pages.shared.once import form_key, once
from triage.app_pages.shared.shop_record import shop_record
from triage.errors import TriageError
from triage.workflows.shop.shop import Shop


def field(name: str) -> str:
    """Key of a form or of a widget in it."""
    return form_key("parts", name)


def do_act(by: str, act: Callable[[], object]) -> None:
    """Do an act on the record, and show what it refuses."""
    if not by:
        st.error("Choose or enter your name at the top of this page.")
        return
    try:
        once("parts", act)
    except TriageError as refusal:
        st.error(listed(refusal))
        return
    st.rerun()


def on_record(by: str, act: Callable[..., object], *arguments: Any) -> None:
    """Do an act that takes the record and who acts first."""
    ledger, _ = shop_record()
    do_act(by, lambda: act(ledger, by, *arguments))


def part_choice(shop: Shop, name: str) -> str | None:
    """Ask which part of the catalogue."""
    parts = shop.catalogue.parts
    return st.selectbox(
        "Part", sorted(parts, key=lambda slug: parts[slug].name), index=None, key=field(name),
        format_func=lambda slug: parts[slug].name, placeholder="choose",
    )  # fmt: skip


def fits_fields(shop: Shop, name: str) -> tuple[str, str]:
    """Ask which price class or models a part fits."""
    tiers = shop.prices.tiers()
    tier = st.selectbox(
        "Fits price class", ["", *tiers], key=field(f"{name}-tier"),
        format_func=lambda slug: tiers[slug].name if slug else "any",
    )  # fmt: skip
    model = st.text_input("Fits models (optional)", max_chars=200, key=field(f"{name}-model"))
    return tier or "", (model or "").strip()


def fit_words(shop: Shop, tier: str, model: str) -> str:
    """What a part fits, in words."""
    tiers = shop.prices.tiers()
    return model or (f"price class {tiers[tier].name.lower()}" if tier in tiers else tier or "any")


def part_name(shop: Shop, slug: str) -> str:
    """Name of a part, or its slug where the catalogue no longer has it."""
    parts = shop.catalogue.parts
    return parts[slug].name if slug in parts else slug
