"""Parts of a job: ordered or taken from the shelf, and the status of each."""

from __future__ import annotations

import streamlit as st

from triage.app_pages.jobs.job_in_hand import JobInHand
from triage.app_pages.shared.literal import literal
from triage.domain.job.part_orders import NEXT_FATES, fate_of
from triage.domain.job.records import PartFate, PartOrdered
from triage.domain.job.shelf_rules import on_hand
from triage.domain.shop.supply import fits
from triage.workflows.jobs.parts import order_part, part_fate, reserve_part
from triage.workflows.jobs.words import day

_FATES = {
    "ordered": "ordered",
    "arrived": "arrived",
    "dead-on-arrival": "dead on arrival",
    "claimed": "claimed from supplier",
    "refunded": "refunded",
    "sent-back": "sent back",
    "fitted": "fitted",
    "lost": "lost",
    "cancelled": "cancelled",
    "shelved": "kept for the shelf",
}


def parts_part(job: JobInHand) -> None:
    """Draw each part with what may become of it; then the forms to get another."""
    file = job.file
    if not file.orders:
        st.markdown("No parts ordered for this job.")
    for kept in file.orders:
        _order(job, kept.id, kept.record)
    if file.state in ("taken", "in-work", "waiting"):
        _new_order(job)
        _shelf(job)
    else:
        st.caption("You can order parts while a job is accepted, in progress or on hold.")


def _name(job: JobInHand, part: str) -> str:
    parts = job.shop.catalogue.parts
    return parts[part].name if part in parts else part


def _order(job: JobInHand, id: int, order: PartOrdered) -> None:
    now = fate_of(job.file, id)
    cost = job.money(order.cost_minor + order.tax_minor)
    due = f", due {day(order.due, job.today)}" if order.due and now == "ordered" else ""
    back = f", returnable until {day(order.returnable_until, job.today)}" if order.returnable_until else ""
    st.markdown(
        f"**{literal(_name(job, order.part))}**, {_FATES[now]}: {cost} from {literal(order.source)}"
        f"{', ' + literal(order.grade) if order.grade else ''}{due}{back}"
    )
    if not NEXT_FATES[now]:
        return
    with st.form(job.key(f"fate-{id}")):
        with st.grid(2, min_column_width=150, gap="xsmall"):
            fate = st.selectbox(
                "New status", NEXT_FATES[now], index=None, format_func=_FATES.__getitem__,
                placeholder="choose", key=job.key(f"fate-{id}-what"),
            )  # fmt: skip
            money = st.number_input(
                f"Refund ({job.file.currency})", 0.0, 1e7, None, 5.0, "%.2f",
                key=job.key(f"fate-{id}-money"),
            )  # fmt: skip
        if st.form_submit_button("Save status", key=job.key(f"fate-{id}-go")):
            if fate is None:
                st.error("Choose the new status.")
            else:
                job.do(part_fate, PartFate(id, job.today, fate, job.minor(money)))


def _new_order(job: JobInHand) -> None:
    file, catalogue = job.file, job.shop.catalogue
    kinds = [kept.record.kind for kept in file.findings]
    likely = dict.fromkeys(p for kind in kinds for r in catalogue.repairs_for(kind) for p in r.parts)
    st.subheader("Order a part", anchor=False)
    part = st.selectbox(
        "Part", [*likely, *(slug for slug in catalogue.parts if slug not in likely)], index=None,
        format_func=lambda slug: catalogue.parts[slug].name, placeholder="choose", key=job.key("order-part"),
    )  # fmt: skip
    if part is None:
        return
    told = file.intake.record
    with st.form(job.key(f"order-{part}")):
        with st.grid(2, min_column_width=150, gap="xsmall"):
            source = st.text_input("Supplier", max_chars=100, key=job.key("order-source"))
            cost = st.number_input(
                f"Cost without tax ({file.currency})", 0.0, 1e7,
                job.shop.prices.price(part, told.tier, told.model), 5.0, "%.2f", key=job.key("order-cost"),
            )  # fmt: skip
            tax = st.number_input(
                f"Tax ({file.currency})", 0.0, 1e7, None, 1.0, "%.2f", key=job.key("order-tax")
            )
            grade = st.text_input("Grade", max_chars=60, key=job.key("order-grade"))
            due = st.date_input("Due", None, format="YYYY-MM-DD", key=job.key("order-due"))
            back = st.date_input("Returnable until", None, format="YYYY-MM-DD", key=job.key("order-back"))
        if st.form_submit_button("Record order", type="primary", key=job.key("order-go")):
            if cost is None or not (source or "").strip():
                st.error("Enter supplier and cost.")
            else:
                job.do(
                    order_part,
                    PartOrdered(
                        part,
                        source.strip(),
                        job.minor(cost),
                        job.minor(tax),
                        (grade or "").strip(),
                        back,
                        due,
                    ),
                )


def _shelf(job: JobInHand) -> None:
    told = job.file.intake.record
    with job.keeper.ledger.reading() as reading:
        free = on_hand(reading.shelf(), reading.shelf_moves())
    if not free:
        return
    ours = {kept.id for kept in free if fits(kept.record.tier, kept.record.model, told.tier, told.model)}
    parts = {kept.id: kept.record for kept in sorted(free, key=lambda kept: kept.id not in ours)}
    st.subheader("Use a part from the shelf", anchor=False)

    def words(id: int) -> str:
        part = parts[id]
        other = "" if id in ours else "for another model: "
        return (
            f"{_name(job, part.part)} ({other}{part.model or part.tier or 'any'}), "
            f"{job.money(part.cost_minor)}, {'tested' if part.tested else 'not tested'}"
            f"{', paired to its device' if part.paired else ''}{', bin ' + part.bin if part.bin else ''}"
        )

    with st.form(job.key("shelf")):
        shelf = st.selectbox(
            "Shelf part",
            list(parts),
            index=None,
            format_func=words,
            placeholder="choose",
            key=job.key("shelf-id"),
        )
        pairing = st.text_input(
            "Paired part: who authorised pairing, and how", max_chars=200,
            key=job.key("shelf-pairing"),
        )  # fmt: skip
        if st.form_submit_button("Reserve part", key=job.key("shelf-go")):
            if shelf is None:
                st.error("Choose a part.")
            else:
                job.do(reserve_part, shelf, job.today, (pairing or "").strip())
