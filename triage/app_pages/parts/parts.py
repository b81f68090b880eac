"""The parts page: which parts are on the shelf, which were sold, and what parts cost."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from triage.app_pages.parts.part_forms import field, fit_words, fits_fields, on_record, part_choice, part_name
from triage.app_pages.parts.part_prices import prices_part
from triage.app_pages.parts.part_update import update_part
from triage.app_pages.parts.sold_parts import sold_part
from triage.app_pages.shared.at_the_bench import at_the_bench
from triage.app_pages.shared.next_step import next_step
from triage.app_pages.shared.page_head import page_head
from triage.app_pages.shared.shop_record import shop_record
from triage.domain.money import from_minor, money_text, to_minor
from triage.domain.shop.shelf import ShelfPart
from triage.ledger.record import Ledger
from triage.workflows.jobs.shelf import ShelfLine, shelf_lines, shelve
from triage.workflows.shop.shop import Shop


def page() -> None:
    """Draw what is on the shelf, what was sold and what prices were noted, and the forms that add to them."""
    shop = page_head("Parts")
    ledger, _ = shop_record()
    if shop is None or ledger is None:
        return
    by = at_the_bench(ledger)
    shelf, sold, prices = st.tabs(["Shelf", "Sold parts", "Price book"])
    with shelf:
        _shelf(ledger, shop, by)
    with sold:
        sold_part(ledger, shop, by)
    with prices:
        prices_part(ledger, shop, by)


def _shelf(ledger: Ledger, shop: Shop, by: str) -> None:
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
        update_part(free, shop, by)
    with st.expander("Add a bought part"), st.form(field("parts-shelve"), border=False):
        part = part_choice(shop, "parts-shelve-part")
        with st.grid(2, min_column_width=150, gap="xsmall"):
            tier, model = fits_fields(shop, "parts-shelve")
            cost = st.number_input(
                f"Cost ({shop.settings.currency})",
                0.0,
                1e7,
                None,
                1.0,
                "%.2f",
                key=field("parts-shelve-cost"),
            )
            bin_ = st.text_input("Bin", max_chars=60, key=field("parts-shelve-bin"))
        tested = st.checkbox("Tested and working", key=field("parts-shelve-tested"))
        if st.form_submit_button("Add part", key=field("parts-shelve-go")):
            if part is None or cost is None:
                st.error("Enter part and cost.")
            else:
                currency = shop.settings.currency
                put = ShelfPart(
                    part, to_minor(cost, currency), currency, None, tier, model, "", tested, False,
                    (bin_ or "").strip(),
                )  # fmt: skip
                on_record(by, shelve, put)


def _shelf_row(line: ShelfLine, shop: Shop) -> dict[str, str]:
    part = line.part.record
    return {
        "part": part_name(shop, part.part),
        "status": line.where,
        "fits": fit_words(shop, part.tier, part.model),
        "tested": "yes" if part.tested else "no",
        "paired to its device": "yes" if part.paired else "no",
        "bin": part.bin,
        "cost": money_text(from_minor(part.cost_minor, part.currency), part.currency),
        "from": line.donor or "bought",
    }


if __name__ == "__main__":
    page()
    next_step("parts")
