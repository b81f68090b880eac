"""Prices of parts: those added to the price book, and the form that adds one."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from triage.app_pages.parts.part_forms import (
    field,
    fit_words,
    fits_fields,
    on_record,
    part_choice,
    part_name,
)
from triage.domain.money import from_minor, money_text, to_minor
from triage.domain.shop.shelf import PriceFound
from triage.ledger.record import Ledger
from triage.workflows.jobs.shelf import note_price
from triage.workflows.shop.shop import Shop


def prices_part(ledger: Ledger, shop: Shop, by: str) -> None:
    """Draw the prices that were added, and the form that adds one."""
    with ledger.reading() as reading:
        found = [kept.record for kept in reading.prices_found()]
    st.caption(
        "Prices that you add to the price book. Answers use the newest one that fits best, before the price "
        "in the price book's file."
    )
    if found:
        rows = [_price_row(note, shop) for note in reversed(found)]
        st.dataframe(pd.DataFrame(rows), hide_index=True, alt="Prices added to the price book, newest first")
    parts = shop.catalogue.parts
    with st.form(field("parts-price")):
        part = part_choice(shop, "parts-price-part")
        with st.grid(2, min_column_width=150, gap="xsmall"):
            source = st.text_input("Supplier", max_chars=100, key=field("parts-price-source"))
            grade = st.text_input("Grade", max_chars=60, key=field("parts-price-grade"))
            tier, model = fits_fields(shop, "parts-price")
            currency = shop.settings.currency
            cost = st.number_input(
                f"Cost without tax ({currency})", 0.0, 1e7, None, 1.0, "%.2f", key=field("parts-price-cost")
            )
            tax = st.number_input(
                f"Tax ({currency})", 0.0, 1e7, 0.0, 1.0, "%.2f", key=field("parts-price-tax")
            )
            low = st.number_input("Lead time, shortest (days)", 0, 365, 1, key=field("parts-price-low"))
            likely = st.number_input("Lead time, usual (days)", 0, 365, 2, key=field("parts-price-likely"))
            high = st.number_input("Lead time, longest (days)", 0, 365, 5, key=field("parts-price-high"))
            back = st.number_input("Returnable for (days)", 0, 365, 0, key=field("parts-price-back"))
            dead = st.number_input(
                "Dead on arrival (of 20)", 0.0, 19.0, 0.0, 0.5, "%g", key=field("parts-price-dead")
            )
        if st.form_submit_button("Save price", type="primary", key=field("parts-price-go")):
            if part not in parts or cost is None:
                st.error("Enter part and cost.")
            else:
                note = PriceFound(
                    part, (source or "").strip(), to_minor(cost, currency), currency, shop.today,
                    to_minor(tax, currency), tier, model, (grade or "").strip(), low, likely, high, back,
                    dead / 20,
                )  # fmt: skip
                on_record(by, note_price, note)


def _price_row(note: PriceFound, shop: Shop) -> dict[str, str]:
    return {
        "part": part_name(shop, note.part),
        "cost": money_text(from_minor(note.cost_minor, note.currency), note.currency),
        "tax": money_text(from_minor(note.tax_minor, note.currency), note.currency),
        "fits": fit_words(shop, note.tier, note.model),
        "supplier": note.source,
        "lead time (days)": f"{note.lead_low:g} / {note.lead_likely:g} / {note.lead_high:g}",
        "returnable": f"within {note.returnable_days} days" if note.returnable_days else "no",
        "date": note.checked_on.isoformat(),
    }
