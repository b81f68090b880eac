"""The lot page, which answers which devices of a lot to buy, and what the whole is worth."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import streamlit as st

from triage.app_pages.lot.lot_answer import show_bad_rows, show_choice, show_whole
from triage.app_pages.lot.lot_limits import wanted_of
from triage.app_pages.shared.current_device import listed
from triage.app_pages.shared.literal import literal
from triage.app_pages.shared.long_work_panel import long_work_panel
from triage.app_pages.shared.next_step import next_step
from triage.app_pages.shared.page_head import page_head
from triage.app_pages.shared.shop_counter import shop_files
from triage.app_pages.shared.shop_record import record_url, shop_record
from triage.errors import TriageError
from triage.lot_selection.lot_choice import LotChoice, Wanted, WholeWords
from triage.lot_selection.lot_risk import LotRisk
from triage.lot_selection.packed_lot import unpacked
from triage.lot_selection.scored_lot import ScoredLot
from triage.shipped import shipped
from triage.workflows.background.runner import LongWork, look
from triage.workflows.lots.choose import choose_from_lot, scored_for
from triage.workflows.shop.shop import Shop

DEMO_LOT = "synthetic_cases/lot.csv"
EXPLAIN = (
    "Each row is assessed like one device at its asking price. The whole lot is also priced as one purchase. "
    "A hundred devices take about half a minute."
)
COLUMNS = (
    "The CSV file has one row per device. Required columns: `unit` (its own label), `tier` (price class) "
    "and `findings` (damage). Separate damage by `;`, such as "
    "`back-glass-cracked;port-pins-damaged/3;cell-worn/2/8 in 20`. The number is the severity; the count is "
    "the chance of suspected damage. Optional columns: `ask` (asking price), `model`, `cause`, `battery`, "
    "`lock`, `identity`, `enrolled`, `source`, `working_price` (resale value), `parts_value`, `symptoms`, "
    "`checks`. Rows that cannot be read are listed; the other rows are still assessed."
)
HOW = (
    "**The choice** is the best of all choices within the limits, found by integer programming on the "
    "expected margins at the asking prices. Only devices that meet your rule at their price are considered. "
    "**The dots** are 20 equally likely margins of all chosen devices together. Uncertainty about "
    "success chances, minutes, parts, comebacks and sale prices is shared by all devices (joint posterior "
    "draws); chance is separate for each device. "
    "**Best worst 2 in 20** makes the mean of the worst tenth of that distribution as high as possible. "
    "**One more hour, 100 more to spend**: the choice is repeated with the higher limit. "
    "**Whole lot as one purchase**: the highest price at which the lot meets your rule. Each device is "
    "repaired or stripped where that earns what your rule asks of one device, else disposed of at a cost."
)


def page() -> None:
    """Draw where the lot comes from, then the choice, the whole, and the rows that could not be read."""
    shop = page_head("Lot")
    if shop is None:
        return
    work = _scored_here(shop)
    if work is None or work.result is None:
        st.info(
            "No lot is assessed yet. Upload the seller's list as a CSV file, or assess the invented lot of "
            "240 broken devices at Saltmarsh Lane."
        )
        return
    told = work.result
    try:
        lot, whole = _unpacked(work.id, told["scored"]), _whole(told["whole"])
    except (KeyError, TypeError, ValueError):
        st.error("This lot was assessed by another version of this program. Assess it again.")
        return
    st.caption(literal(_which(work, lot)))
    if told.get("scored_for") != scored_for(shop):
        st.warning(
            "The shop's settings, assumptions or prices have changed since then. Assess the lot again."
        )
    wanted = wanted_of(lot)
    try:
        choice = replace(_chosen(work.id, wanted, repr(shop.settings), lot, shop), whole=whole)
    except TriageError as refusal:
        st.error(listed(refusal))
        return
    show_choice(choice, shop.catalogue)
    show_whole(choice)
    show_bad_rows(choice)
    with st.expander("How this is calculated"):
        st.markdown(HOW)
        if made_up := shop_files().invented:
            st.markdown(f"Invented for the demo: {', '.join(made_up)}.")


def _scored_here(shop: Shop) -> LongWork | None:
    """Where the lot comes from and the work that assesses it; the newest lot that is assessed."""
    now = look("lot")
    busy = now is not None and now.state != "done"
    with st.expander(
        "Assess another lot" if now and not busy else "The lot",
        expanded=now is None or busy,
        icon=":material/inventory_2:",
        key=f"lot-intake-{now.id if now else ''}-{busy}",
    ):
        given = st.file_uploader("The seller's list (CSV)", type="csv", key="lot-file", max_upload_size=20)
        st.markdown(COLUMNS)
        currency = shop.settings.currency
        with st.grid(2, min_column_width=150, gap="xsmall"):
            freight = st.number_input(
                f"Freight for the whole lot ({currency})", 0.0, 1e7, 0.0, 10.0, "%.2f", key="lot-freight"
            )
            unread = st.number_input(
                f"Value of an unreadable row ({currency})", 0.0, 1e7, 0.0, 1.0, "%.2f", key="lot-unread"
            )  # fmt: skip
        arguments: dict[str, Any] = {
            "freight": freight, "bad_row_value": unread, "files": shop_files().to_environment()
        }  # fmt: skip
        if shop_record()[0] is not None:
            arguments["ledger"] = record_url()
        if given is None:
            demo = shipped(DEMO_LOT).read_text(encoding="utf-8")
            arguments |= {"csv": demo, "name": "The invented lot"}
        else:
            # What is not UTF-8 becomes a mark, and so a fault of its row.
            text = given.getvalue().decode("utf-8-sig", "replace")
            arguments |= {"csv": text, "name": given.name[:80]}
        label = "Assess the invented lot" if given is None else "Assess this lot"
        return long_work_panel("lot", arguments, label, EXPLAIN)


def _which(work: LongWork, lot: ScoredLot) -> str:
    """Which lot this is, in a line."""
    name = (work.result or {}).get("name", "A lot")
    when = work.started.astimezone().strftime("%d %b, %H:%M")
    rows = len(lot.bad_rows)
    unread = f", {rows} row{'s' if rows != 1 else ''} unreadable" if rows else ""
    return f"{name}: {len(lot.labels):,} devices assessed{unread}; {when}."


def _whole(told: dict[str, Any]) -> WholeWords:
    risk = {**told["risk"], "dots": tuple(told["risk"]["dots"])}
    return WholeWords(**{**told, "risk": LotRisk(**risk), "work": tuple(told["work"])})


@st.cache_resource(max_entries=3, show_spinner=False)
def _unpacked(work: str, _told: dict[str, Any]) -> ScoredLot:
    return unpacked(_told)


@st.cache_data(max_entries=100, show_spinner="Choosing…")
def _chosen(work: str, wanted: Wanted, settings: str, _lot: ScoredLot, _shop: Shop) -> LotChoice:
    return choose_from_lot(_lot, _shop.settings, wanted)


if __name__ == "__main__":
    page()
    next_step("lot")
