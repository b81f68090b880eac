"""One shelf part: tested, what it fits, its data erased, sold or scrapped."""

from __future__ import annotations

from collections.abc import Callable

import streamlit as st

from triage.app_pages.parts.part_forms import do_act, field, fit_words, fits_fields, on_record, part_name
from triage.app_pages.shared.shop_record import shop_record
from triage.domain.job.records import Kept
from triage.domain.money import to_minor
from triage.domain.shop.shelf import PartLeft, ShelfPart
from triage.workflows.jobs.shelf import ShelfLine, data_wiped, found_to_work, now_fits, scrap, sell_part
from triage.workflows.shop.shop import Shop

_STATUSES = {
    "tested": "tested and working",
    "sold": "sold",
    "scrapped": "scrapped",
    "fits": "fits other models",
    "wiped": "data wiped",
}


def update_part(free: dict[int, ShelfLine], shop: Shop, by: str) -> None:
    """Draw the choice of a part that is on hand, and the form for its new status.

    Every field is of one part and one status: nothing typed for one stays for the next.
    """

    def words(id: int) -> str:
        part, donor = free[id].part.record, free[id].donor or "bought"
        bin_ = f", bin {part.bin}" if part.bin else ""
        return f"{part_name(shop, part.part)}, {fit_words(shop, part.tier, part.model)}, from {donor}{bin_}"

    with st.expander("Update a part: tested, sold, scrapped", expanded=True):
        which = st.selectbox(
            "Shelf part", list(free), index=None, format_func=words, placeholder="choose",
            key=field("parts-one-id"),
        )  # fmt: skip
        if which is None:
            return
        part = free[which].part
        held = shop.catalogue.parts.get(part.record.part)
        statuses = [name for name in _STATUSES if name != "wiped" or (held and held.holds_data)]
        what = st.segmented_control(
            "New status", statuses, key=field(f"parts-one-what-{which}"), format_func=_STATUSES.__getitem__
        )
        if what is not None:
            with st.form(field(f"parts-one-{which}-{what}"), border=False):
                _FORMS[what](part, shop, by)


def _pressed(label: str) -> bool:
    return st.form_submit_button(label, type="primary", key=field("parts-one-go"))


def _text(label: str, name: str, part: Kept[ShelfPart]) -> str:
    return (st.text_input(label, max_chars=200, key=field(f"parts-one-{name}-{part.id}")) or "").strip()


def _tested(part: Kept[ShelfPart], shop: Shop, by: str) -> None:
    how = _text("Test method", "how", part)
    if _pressed("Save status"):
        on_record(by, found_to_work, part.id, how)


def _scrapped(part: Kept[ShelfPart], shop: Shop, by: str) -> None:
    note = _text("Note", "note", part)
    if _pressed("Scrap part"):
        on_record(by, scrap, part.id, shop.today, note)


def _fits(part: Kept[ShelfPart], shop: Shop, by: str) -> None:
    tier, model = fits_fields(shop, f"parts-one-fits-{part.id}")
    why = _text("How do you know?", "why", part)
    if _pressed("Save models"):
        on_record(by, now_fits, part.id, tier, model, why)


def _wiped(part: Kept[ShelfPart], shop: Shop, by: str) -> None:
    how = _text("Data wipe: method and proof", "wiped", part)
    if _pressed("Save data wipe"):
        on_record(by, data_wiped, part.id, how)


def _sold(part: Kept[ShelfPart], shop: Shop, by: str) -> None:
    currency = part.record.currency
    if part.record.paired:
        st.caption("This part is paired to its device: tell the buyer so.")
    if not part.record.tested:
        st.caption("This part is not tested: tell the buyer so.")
    with st.grid(2, min_column_width=150, gap="xsmall"):
        price = st.number_input(
            f"Price ({currency})", 0.0, 1e7, None, 1.0, "%.2f", key=field(f"parts-one-price-{part.id}")
        )
        fees = st.number_input(
            f"Fees and postage ({currency})", 0.0, 1e7, None, 1.0, "%.2f",
            placeholder="as in settings", key=field(f"parts-one-fees-{part.id}"),
        )  # fmt: skip
        buyer = _text("Buyer", "buyer", part)
        on = st.date_input(
            "Sold on", shop.today, format="YYYY-MM-DD", max_value=shop.today,
            key=field(f"parts-one-on-{part.id}"),
        )  # fmt: skip
    note = _text("Note", "note", part)
    if not _pressed("Record sale"):
        return
    if price is None or on is None:
        st.error("Enter price and day.")
        return
    sale = PartLeft(
        "sold", on, price_minor=to_minor(price, currency), fees_minor=to_minor(fees or 0.0, currency),
        person=buyer, note=note,
    )  # fmt: skip
    ledger, _ = shop_record()
    assert ledger is not None  # the page was drawn from it
    known = fees is not None
    do_act(by, lambda: sell_part(ledger, shop.catalogue, shop.settings, by, part.id, sale, known))


_FORMS: dict[str, Callable[[Kept[ShelfPart], Shop, str], None]] = {
    "tested": _tested,
    "sold": _sold,
    "scrapped": _scrapped,
    "fits": _fits,
    "wiped": _wiped,
}
