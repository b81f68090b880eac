"""Stripping at the bench: the parts to take out as taps, minutes, and what happens to parts on order."""

from __future__ import annotations

import streamlit as st

from triage.app_pages.jobs.job_cautions import step_cautions
from triage.app_pages.jobs.job_in_hand import JobInHand
from triage.app_pages.shared.literal import literal
from triage.domain.job.ending import hold_refusals
from triage.domain.job.part_orders import OrderChoice, order_choices, unused_orders
from triage.workflows.jobs.stripping import OfferedPart, TakenPart, offered_parts, strip

_CHOICES: dict[OrderChoice, str] = {
    "cancelled": "cancelled, money back",
    "sent-back": "sent back to supplier",
    "keep": "keep for the shelf",
}


def strip_part(job: JobInHand) -> None:
    """Draw the form that strips a device of ours."""
    with st.expander("Strip for parts", key=job.key("strip-fold"), on_change="rerun") as fold:
        if not fold.open:
            return
        if held := hold_refusals(job.file, job.today, job.shop.settings.hold_days):
            st.warning(f"Not yet: {held[0]}.")
            return
        step_cautions(job, "strip")
        offered = {part.part: part for part in offered_parts(job.shop, job.file)}
        tapped = _taps(job, offered)
        taken = [_one(job, offered[slug]) for slug in tapped]
        model, whole_class, bin_ = _fits(job) if tapped else ("", False, "")
        orders = _orders(job)
        usual = job.shop.settings.minutes.strip + sum(offered[slug].minutes or 0.0 for slug in tapped)
        minutes = st.number_input(
            "Minutes it took", 0.0, 1e4, None, 5.0, "%g", placeholder=f"planned: {usual:g}",
            key=job.key("strip-minutes"),
        )  # fmt: skip
        if not st.button("Record stripping", type="primary", key=job.key("strip-go")):
            return
        if minutes is None:
            st.error("Enter the minutes it took.")
        elif any(part.worth is None for part in taken):
            st.error("Enter what each part is worth, 0 if nothing.")
        else:
            whole = [
                TakenPart(
                    part.part, part.tested, "", bin_, part.worth, model, whole_class, part.wiped
                )
                for part in taken
            ]  # fmt: skip
            job.do(
                strip, job.today, whole, "", minutes, orders,
                said="Stripping recorded. The parts are on the shelf." if whole else "Stripping recorded.",
            )  # fmt: skip


def _taps(job: JobInHand, offered: dict[str, OfferedPart]) -> list[str]:
    def words(slug: str) -> str:
        part = offered[slug]
        return literal(part.name) + (" (damaged)" if part.damage else "")

    may = [slug for slug, part in offered.items() if not part.refused]
    tapped = st.pills(
        "Parts to take out", may, selection_mode="multi", format_func=words, key=job.key("strip-parts")
    )
    for part in offered.values():
        if part.refused:
            st.caption(f"{part.name.capitalize()}: {part.refused}.")
    return tapped


def _one(job: JobInHand, part: OfferedPart) -> TakenPart:
    """Ask what one tapped part is: tested, worth, and for one that holds data, how they were erased."""
    with st.container(border=True, key=job.key(f"strip-{part.part}")):
        st.markdown(f"**{literal(part.name.capitalize())}**" + (f": {part.damage}" if part.damage else ""))
        tested = False
        if not part.damage:
            tested = st.checkbox("Tested and working", key=job.key(f"strip-{part.part}-tested"))
        worth = st.number_input(
            f"Worth of {part.name} ({job.file.currency})", 0.0, 1e7, part.worth_as(tested), 1.0, "%.2f",
            key=job.key(f"strip-{part.part}-worth-{tested}"),
        )  # fmt: skip
        wiped = ""
        if job.shop.catalogue.parts[part.part].holds_data:
            wiped = st.text_input(
                "Data wipe: method and proof (without it, the part is never sold)", max_chars=200,
                key=job.key(f"strip-{part.part}-wiped"),
            )  # fmt: skip
    return TakenPart(part.part, tested, worth=worth, wiped=wiped or "")


def _fits(job: JobInHand) -> tuple[str, bool, str]:
    """Models that the parts fit, whether a whole price class, and their bin."""
    told, tiers = job.file.intake.record, job.shop.prices.tiers()
    with st.grid(2, min_column_width=150, gap="xsmall"):
        model = st.text_input(
            "Fits models (; between several)", told.model, max_chars=200, key=job.key("strip-model")
        )
        bin_ = st.text_input("Bin", max_chars=60, key=job.key("strip-bin"))
    name = tiers[told.tier].name.lower() if told.tier in tiers else told.tier
    whole = st.checkbox(f"Fits every model of price class {literal(name)}", key=job.key("strip-class"))
    return (model or "").strip(), whole, (bin_ or "").strip()


def _orders(job: JobInHand) -> dict[int, OrderChoice]:
    """Ask what happens to each part bought for the job that is not fitted."""
    unused = unused_orders(job.file)
    if not unused:
        return {}
    total = sum(kept.record.cost_minor + kept.record.tax_minor for kept in unused)
    st.warning(f"Parts bought for this job and not fitted: {job.money(total)}. Choose what happens to each.")
    parts, choices = job.shop.catalogue.parts, {}
    for kept in unused:
        order = kept.record
        name = parts[order.part].name if order.part in parts else order.part
        cost = job.money(order.cost_minor + order.tax_minor)
        choices[kept.id] = st.selectbox(
            f"{literal(name.capitalize())}, {cost}, from {literal(order.source)}",
            order_choices(job.file, kept), index=None, format_func=_CHOICES.__getitem__, placeholder="choose",
            key=job.key(f"strip-order-{kept.id}"),
        )  # fmt: skip
    return {id: choice for id, choice in choices.items() if choice is not None}
