"""Parts that were sold: what each brought, its tax and margin, and those that buyers returned."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from triage.app_pages.parts.part_forms import do_act, field, on_record, part_name
from triage.domain.money import from_minor, money_text, to_minor
from triage.domain.shop.shelf import PartReturned, ReturnedTo
from triage.ledger.record import Ledger
from triage.review.money.sold_parts import PartSale, sales_table
from triage.workflows.jobs.forget import forget_buyer
from triage.workflows.jobs.record_keeper import RecordKeeper
from triage.workflows.jobs.shelf import part_returned, part_sales
from triage.workflows.shop.shop import Shop

_TO: dict[ReturnedTo, str] = {"shelf": "back on the shelf", "scrapped": "scrapped"}


def sold_part(ledger: Ledger, shop: Shop, by: str) -> None:
    """Draw every part sold, newest first, and the forms for a return and for an erasure."""
    sales = part_sales(ledger)
    if not sales:
        st.info("No part was sold yet. Sell one under **Shelf**.")
        return
    rows = [_row(one, shop) for one in sales]
    st.dataframe(pd.DataFrame(rows), hide_index=True, alt="Parts sold, newest first")
    st.caption(
        "Share of cost is the part's share of the price paid for its device. Tax follows your settings; "
        "under the margin scheme each part is taxed on what it brought above its share. Local law decides."
    )
    table = pd.DataFrame(sales_table(sales, shop.settings.tax)).to_csv(index=False)
    st.download_button("Download sales of parts", table, "parts-sold.csv", "text/csv", on_click="ignore")
    _return(sales, shop, by)
    _erase(ledger, sales, shop, by)


def _row(one: PartSale, shop: Shop) -> dict[str, str]:
    sale, tax, currency = one.sale.record, shop.settings.tax, one.part.currency

    def money(minor: int) -> str:
        return money_text(from_minor(minor, currency), currency)

    back = f"{_TO[one.back.to]}, refund {money(one.back.refund_minor)}" if one.back else "no"
    return {
        "part": part_name(shop, sale.part),
        "from": one.donor or "bought",
        "date": sale.on.isoformat(),
        "price": money(sale.price_minor),
        "fees": money(sale.fees_minor),
        "share of cost": money(sale.cost_minor),
        "tax": money(one.tax(tax)),
        "margin": money(one.margin(tax)),
        "buyer": sale.person,
        "returned": back,
    }


def _words(sales: tuple[PartSale, ...], shop: Shop) -> dict[int, str]:
    return {
        one.sale.id: f"{part_name(shop, one.sale.record.part)}, {one.sale.record.on.isoformat()}, "
        f"{money_text(from_minor(one.sale.record.price_minor, one.part.currency), one.part.currency)}"
        for one in sales
    }


def _return(sales: tuple[PartSale, ...], shop: Shop, by: str) -> None:
    words = _words(tuple(one for one in sales if one.back is None), shop)
    if not words:
        return
    prices = {one.sale.id: one for one in sales}
    with st.expander("Return of a sold part"):
        which = st.selectbox(
            "Sale", list(words), index=None, format_func=words.__getitem__, placeholder="choose",
            key=field("parts-back-id"),
        )  # fmt: skip
        if which is None:
            return
        one = prices[which]
        currency = one.part.currency
        with st.form(field(f"parts-back-{which}"), border=False):
            refund = st.number_input(
                f"Refund ({currency})", 0.0, 1e7, from_minor(one.sale.record.price_minor, currency), 1.0,
                "%.2f", key=field(f"parts-back-refund-{which}"),
            )  # fmt: skip
            to = st.segmented_control(
                "The part is now", list(_TO), format_func=_TO.__getitem__, key=field(f"parts-back-to-{which}")
            )
            note = st.text_input("Reason", max_chars=200, key=field(f"parts-back-note-{which}"))
            if st.form_submit_button("Record return", type="primary", key=field("parts-back-go")):
                if to is None or refund is None:
                    st.error("Enter the refund, and where the part is now.")
                else:
                    minor = to_minor(refund, currency)
                    on_record(
                        by, part_returned, PartReturned(which, shop.today, to, minor, (note or "").strip())
                    )


def _erase(ledger: Ledger, sales: tuple[PartSale, ...], shop: Shop, by: str) -> None:
    """Buyers of parts bought to stock; of any other part they are erased with its job."""
    words = _words(tuple(one for one in sales if not one.donor and one.sale.record.person), shop)
    if not words:
        return
    with st.expander("Erase a buyer's name"), st.form(field("parts-erase"), border=False):
        st.caption("For parts that you bought for stock. For others, erase personal data on the job page.")
        which = st.selectbox(
            "Sale", list(words), index=None, format_func=words.__getitem__, placeholder="choose",
            key=field("parts-erase-id"),
        )  # fmt: skip
        why = st.text_input("Reason", "on request", max_chars=200, key=field("parts-erase-why"))
        if st.form_submit_button("Erase permanently", key=field("parts-erase-go")):
            if which is None:
                st.error("Choose the sale.")
            else:
                keeper = RecordKeeper(ledger, shop, by)
                do_act(by, lambda: forget_buyer(keeper, which, why or ""))
