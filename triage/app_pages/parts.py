"""The parts page: what parts cost, and which are on the shelf."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pandas as pd
import streamlit as st

from triage.app_pages.shared.at_the_bench import at_the_bench
from triage.app_pages.shared.current_device import listed
from triage.app_pages.shared.next_step import next_step
from triage.app_pages.shared.once import form_key, once
from triage.app_pages.shared.page_head import page_head
from triage.app_pages.shared.shop_record import shop_record
from triage.domain.money import from_minor, money_text, to_minor
from triage.domain.shop.shelf import PriceFound, ShelfPart
from triage.errors import TriageError
from triage.workflows.jobs.shelf import (
    ShelfLine,
    found_to_work,
    note_price,
    shelf_lines,
    shelve,
    take_off,
)
from triage.workflows.shop.shop import Shop

_TAKEN_OFF = {"scrapped": "scrapped", "sold": "sold"}


def page() -> None:
    """Draw what is on the shelf and what prices were noted, and the forms that add to either."""
    shop = page_head("Parts")
    ledger, _ = shop_record()
    if shop is None or ledger is None:
        return
    by = at_the_bench(ledger)
    shelf, prices = st.tabs(["Shelf", "Price book"])
    with shelf:
        _shelf(ledger, shop, by)
    with prices:
        _prices(ledger, shop, by)


def _key(name: str) -> str:
    return form_key("parts", name)


def _do(by: str, act: Callable[..., None], *arguments: Any) -> None:
    """Do an act on the record, and show what it refuses."""
    if not by:
        st.error("Choose or enter your name at the top of this page.")
        return
    ledger, _ = shop_record()
    try:
        once("parts", lambda: act(ledger, by, *arguments))
    except TriageError as refusal:
        st.error(listed(refusal))
        return
    st.rerun()


def _part_choice(shop: Shop, key: str) -> str | None:
    parts = shop.catalogue.parts
    return st.selectbox(
        "Part", sorted(parts, key=lambda slug: parts[slug].name), index=None, key=key,
        format_func=lambda slug: parts[slug].name, placeholder="choose",
    )  # fmt: skip


def _fits(shop: Shop, key: str) -> tuple[str, str]:
    tiers = shop.prices.tiers()
    tier = st.selectbox(
        "Fits price class", ["", *tiers], key=_key(f"{key}-tier"),
        format_func=lambda slug: tiers[slug].name if slug else "any",
    )  # fmt: skip
    model = st.text_input("Fits model (optional)", max_chars=200, key=_key(f"{key}-model"))
    return tier or "", (model or "").strip()


def _fit_words(shop: Shop, tier: str, model: str) -> str:
    tiers = shop.prices.tiers()
    return model or (f"price class {tiers[tier].name.lower()}" if tier in tiers else tier or "any")


# -- the shelf ---------------------------------------------------------------------
def _shelf(ledger: Any, shop: Shop, by: str) -> None:
    lines = shelf_lines(ledger)
    if lines:
        st.dataframe(
            pd.DataFrame([_shelf_row(line, shop) for line in lines]),
            hide_index=True,
            alt="Parts on the shelf",
        )
        st.caption(
            "A plan uses a shelf part if it is on hand, tested, not paired to another device, and fits. "
            "It costs its share of the price paid for its donor device."
        )
    else:
        st.info(
            "The shelf is empty. Parts arrive here when you strip a device on its **job page**, or when you "
            "add a part bought for stock below."
        )
    free = {line.part.id: line for line in lines if line.free}
    if free:
        _one_part(free, shop, by)
    with st.expander("Add a bought part"), st.form(_key("parts-shelve"), border=False):
        part = _part_choice(shop, _key("parts-shelve-part"))
        with st.grid(2, min_column_width=150, gap="xsmall"):
            tier, model = _fits(shop, "parts-shelve")
            cost = st.number_input(
                f"Cost ({shop.settings.currency})", 0.0, 1e7, None, 1.0, "%.2f", key=_key("parts-shelve-cost")
            )
            bin_ = st.text_input("Bin", max_chars=60, key=_key("parts-shelve-bin"))
        tested = st.checkbox("Tested and working", key=_key("parts-shelve-tested"))
        if st.form_submit_button("Add part", key=_key("parts-shelve-go")):
            if part is None or cost is None:
                st.error("Enter part and cost.")
            else:
                currency = shop.settings.currency
                put = ShelfPart(
                    part,
                    to_minor(cost, currency),
                    currency,
                    None,
                    tier,
                    model,
                    "",
                    tested,
                    False,
                    bin_.strip(),
                )
                _do(by, shelve, put)


def _shelf_row(line: ShelfLine, shop: Shop) -> dict[str, str]:
    part, parts = line.part.record, shop.catalogue.parts
    return {
        "part": parts[part.part].name if part.part in parts else part.part,
        "status": line.where,
        "fits": _fit_words(shop, part.tier, part.model),
        "tested": "yes" if part.tested else "no",
        "paired to its device": "yes" if part.paired else "no",
        "bin": part.bin,
        "cost": money_text(from_minor(part.cost_minor, part.currency), part.currency),
        "from": line.donor or "bought",
    }


def _one_part(free: dict[int, ShelfLine], shop: Shop, by: str) -> None:
    """Record that a part was tested, or take it off the shelf."""

    def words(id: int) -> str:
        row = _shelf_row(free[id], shop)
        return f"{row['part']}, {row['fits']}, from {row['from']}" + (
            f", bin {row['bin']}" if row["bin"] else ""
        )

    with st.expander("Update a part: tested, scrapped or sold"), st.form(_key("parts-one"), border=False):
        which = st.selectbox(
            "Shelf part",
            list(free),
            index=None,
            format_func=words,
            placeholder="choose",
            key=_key("parts-one-id"),
        )
        what = st.segmented_control(
            "New status", ["tested", *_TAKEN_OFF], key=_key("parts-one-what"),
            format_func=lambda name: "tested and working" if name == "tested" else _TAKEN_OFF[name],
        )  # fmt: skip
        how = st.text_input("Test method or note", max_chars=200, key=_key("parts-one-how"))
        if st.form_submit_button("Save status", key=_key("parts-one-go")):
            if which is None or what is None:
                st.error("Choose part and status.")
            elif what == "tested":
                _do(by, found_to_work, which, how)
            else:
                _do(by, take_off, which, what, how)


# -- prices ------------------------------------------------------------------------
def _prices(ledger: Any, shop: Shop, by: str) -> None:
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
    with st.form(_key("parts-price")):
        part = _part_choice(shop, _key("parts-price-part"))
        with st.grid(2, min_column_width=150, gap="xsmall"):
            source = st.text_input("Supplier", max_chars=100, key=_key("parts-price-source"))
            grade = st.text_input("Grade", max_chars=60, key=_key("parts-price-grade"))
            tier, model = _fits(shop, "parts-price")
            currency = shop.settings.currency
            cost = st.number_input(
                f"Cost without tax ({currency})", 0.0, 1e7, None, 1.0, "%.2f", key=_key("parts-price-cost")
            )
            tax = st.number_input(
                f"Tax ({currency})", 0.0, 1e7, 0.0, 1.0, "%.2f", key=_key("parts-price-tax")
            )
            low = st.number_input("Lead time, shortest (days)", 0, 365, 1, key=_key("parts-price-low"))
            likely = st.number_input("Lead time, usual (days)", 0, 365, 2, key=_key("parts-price-likely"))
            high = st.number_input("Lead time, longest (days)", 0, 365, 5, key=_key("parts-price-high"))
            back = st.number_input("Returnable for (days)", 0, 365, 0, key=_key("parts-price-back"))
            dead = st.number_input(
                "Dead on arrival (of 20)", 0.0, 19.0, 0.0, 0.5, "%g", key=_key("parts-price-dead")
            )
        if st.form_submit_button("Save price", type="primary", key=_key("parts-price-go")):
            if part not in parts or cost is None:
                st.error("Enter part and cost.")
            else:
                note = PriceFound(
                    part, (source or "").strip(), to_minor(cost, currency), currency, shop.today,
                    to_minor(tax, currency), tier, model, (grade or "").strip(), low, likely, high, back,
                    dead / 20,
                )  # fmt: skip
                _do(by, note_price, note)


def _price_row(note: PriceFound, shop: Shop) -> dict[str, str]:
    parts = shop.catalogue.parts
    return {
        "part": parts[note.part].name if note.part in parts else note.part,
        "cost": money_text(from_minor(note.cost_minor, note.currency), note.currency),
        "tax": money_text(from_minor(note.tax_minor, note.currency), note.currency),
        "fits": _fit_words(shop, note.tier, note.model),
        "supplier": note.source,
        "lead time (days)": f"{note.lead_low:g} / {note.lead_likely:g} / {note.lead_high:g}",
        "returnable": f"within {note.returnable_days} days" if note.returnable_days else "no",
        "date": note.checked_on.isoformat(),
    }


if __name__ == "__main__":
    page()
    next_step("parts")
