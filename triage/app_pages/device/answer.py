"""The answer for a device: verdict, price, stop point and cautions first, then why."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

import pandas as pd
import streamlit as st

from triage.app_pages.device.plan import show_plan
from triage.app_pages.device.right_to_sell import show_right
from triage.app_pages.shared.cautions import STOP_POINT, said_before, show_cautions
from triage.app_pages.shared.literal import literal
from triage.domain.catalogue import Catalogue
from triage.domain.counts import in_twenty, with_signs
from triage.domain.money import money_text
from triage.policy.answer.assessment import Assessment, PartFlip, Verdict
from triage.policy.answer.verdict import Settled
from triage.policy.pricing.sensitivity import Swing
from triage.reports.charts.answer import dotplot, dotplot_words, tornado, waterfall
from triage.reports.wording.cautions import ABOVE, CautionsSaid, first_places
from triage.reports.wording.parts import PARTS_HEAD, PARTS_TITLE, part_rows, strip_words
from triage.reports.wording.plan import first_check_words, stop_words
from triage.reports.wording.step import (
    at_price,
    behind_words,
    check_words,
    flip_lines,
    limit_words,
    loss_words,
    planned_words,
    presence_words,
    settled_words,
    spread_words,
    swing_words,
)
from triage.reports.wording.verdict import WAYS_HEAD, verdict_title, way_rows, ways_title
from triage.workflows.shop.shop import Shop

# Colour and sign of each verdict.
_SIGNS = {
    Verdict.TAKE: ("blue", "check_circle"),
    Verdict.CHECK: ("orange", "help"),
    Verdict.PARTS: ("blue", "construction"),
    Verdict.LEAVE: ("red", "cancel"),
}
_FIRST_CHECK = ":blue[:material/search: **First check:**]"
_HOW = """\
- **Chances** come from this shop's past jobs with the same damage. Where these are few, related damage and
  your assumptions count more. Severity, price class, cause and check results are
  included.
- **The plan** has the highest expected margin over every way the job can go. It stops where more work no
  longer pays, whatever was spent before.
- **Expected margin** is the average over all those ways. The items of the margin breakdown are averages
  too and add up to it.
- **Risk of loss** counts the dots: 20 equally likely outcomes of one such job.
- **{limit}** is the price at which your rule (see Settings) is just met.
"""
# What ownership settled would make of it, and one input changed at a time.
Turning = tuple[Settled | None, tuple[Swing, ...]]
# The widest bars; the others move the answer by a euro or two.
_MOST_SWINGS = 8


def show_answer(
    assessment: Assessment,
    shop: Shop,
    invented: tuple[str, ...],
    ask_part_prices: Callable[[], tuple[PartFlip, ...]],
    ask_swings: Callable[[], Turning],
    decide: Callable[[], None],
    try_changes: Callable[[], None],
) -> None:
    """Draw the whole answer; what matters first fits one phone screen, and the decision comes after it."""
    _verdict(assessment, shop.catalogue)
    # The whole of a caution stands at its step, where there is one: the first screen of a phone is small.
    at_step = first_places(assessment.steps_now)
    show_cautions(assessment.first_cautions, elsewhere=at_step)
    said = CautionsSaid(assessment.first_cautions, at_step)
    _binding_limit(assessment)
    with st.container(key="device-decision"):
        decide()
    try_changes()
    show_right(assessment)
    _ways(assessment)
    _spread(assessment)
    show_plan(assessment, shop, said)
    _findings(assessment, shop.catalogue)
    _checks(assessment, said)
    _money(assessment)
    _parts(assessment)
    flips = flip_lines(replace(assessment, flips=ask_part_prices()), shop.catalogue)
    _list("Prices of parts that would change the verdict", flips)
    _swings(assessment, ask_swings)
    if assessment.expected_margin is not None:
        with st.expander("How this is calculated", key="device-how"):
            st.markdown(_HOW.format(limit=limit_words(assessment)[0]))
    made_up = f"Invented for the demo: {', '.join(invented)}." if invented else ""
    _list("Notes", (*assessment.notes, f"Source of the chances: {assessment.source}.", made_up))


def _verdict(assessment: Assessment, catalogue: Catalogue) -> None:
    """Verdict, the three numbers, the first check and the stop point."""
    currency = assessment.currency
    colour, sign = _SIGNS[assessment.verdict]
    # Without its chance, which stands at the plan: the first screen of a phone is small.
    title = verdict_title(assessment).partition(" (")[0]
    st.header(f":{colour}[:material/{sign}: {title}]", anchor=False)
    st.markdown(literal(assessment.sentence))
    label, figure = limit_words(assessment)
    with st.grid(3, min_column_width=105, gap="xsmall"):
        st.metric(label, figure.replace("$", r"\$"))
        if assessment.expected_margin is not None:
            st.metric("Expected margin", money_text(assessment.expected_margin, currency, whole=True))
            st.metric("Risk of loss", with_signs(loss_words(assessment)))
    if price := at_price(assessment):
        st.caption(literal(f"Expected margin and risk of loss{price}"))
    st.markdown(
        f"{_FIRST_CHECK} {literal(first_check_words(assessment, catalogue))}  \n"
        f"{STOP_POINT} {literal(stop_words(assessment, catalogue))}"
    )


def _binding_limit(assessment: Assessment) -> None:
    """Which rule sets the limit: it need not be the one that the expected margin suggests."""
    if assessment.limit_words.startswith("above"):
        st.caption(literal(" ".join(limit_words(assessment)) + f": {assessment.limit_words}."))


def _spread(assessment: Assessment) -> None:
    if not assessment.dots:
        return
    words = dotplot_words(assessment.dots, assessment.currency)
    st.altair_chart(
        dotplot(assessment.dots, assessment.currency),
        width="content",
        theme=None,
        key="device-dots",
        alt=words,
    )
    st.caption(literal(f"{words} {spread_words(assessment)}"))


def _findings(assessment: Assessment, catalogue: Catalogue) -> None:
    if not assessment.findings:
        return
    st.subheader("Damage and repair chances (severity 3 is the worst)", anchor=False)
    rows = []
    for finding in assessment.findings:
        chance = "no repair of its own"
        if finding.repair:
            unused = planned_words(finding, assessment, catalogue)
            chance = f"repair works **{in_twenty(finding.chance)}**, {behind_words(finding)}{unused}"
        rows.append(
            f"- {literal(finding.name)} (severity {finding.severity} of 3, {presence_words(finding)}): "
            f"{chance}"
        )
    st.markdown("\n".join(rows))


def _checks(assessment: Assessment, said: CautionsSaid) -> None:
    if not assessment.checks:
        return
    st.subheader("Checks worth doing first", anchor=False)
    for check in assessment.checks:
        st.markdown(f"- **{literal(check.name)}**: {literal(check_words(check, assessment.currency))}")
        found = said.at(ABOVE, check.cautions)
        show_cautions(found.whole)
        said_before(found.before)


def _money(assessment: Assessment) -> None:
    margin, an_hour = assessment.expected_margin, assessment.margin_per_hour
    if not assessment.lines or margin is None:
        return
    currency = assessment.currency
    st.subheader("Margin breakdown", anchor=False)
    words = "; ".join(f"{line.label} {money_text(line.amount, currency)}" for line in assessment.lines)
    st.altair_chart(
        waterfall(assessment.lines, currency), theme=None, key="device-money",
        alt=f"{words}; expected margin {money_text(margin, currency)}",
    )  # fmt: skip
    notes = [f"{literal(line.label)}: {literal(line.note)}" for line in assessment.lines if line.note]
    if assessment.priced_by:
        notes.append(f"resale value by: {literal(assessment.priced_by)}")
    if an_hour is not None:
        hourly = literal(money_text(an_hour, currency, whole=True))
        notes.append(f"margin per bench hour, after the bench rate: {hourly}")
    st.caption("; ".join(["amounts are averages over all outcomes, not prices of one job", *notes]))


def _ways(assessment: Assessment) -> None:
    """The ways to go with a device to buy, side by side, the plan's own first."""
    if rows := way_rows(assessment):
        st.subheader(ways_title(assessment), anchor=False)
        st.table(
            pd.DataFrame(rows, columns=list(WAYS_HEAD)),
            border="horizontal",
            hide_index=True,
            hide_header=False,
        )


def _parts(assessment: Assessment) -> None:
    """What each part of the device is worth, where the price book lists them."""
    rows = part_rows(assessment)
    if not rows:
        return
    st.subheader(PARTS_TITLE, anchor=False)
    st.dataframe(
        pd.DataFrame(rows, columns=list(PARTS_HEAD)),
        hide_index=True,
        alt=f"{PARTS_TITLE}: " + "; ".join(f"{row[0]} {row[4]}, {row[5]}" for row in rows),
        column_config={PARTS_HEAD[0]: st.column_config.TextColumn(pinned=True)},
        key="device-parts",
    )
    st.caption(literal(strip_words(assessment)))


def _swings(assessment: Assessment, ask_swings: Callable[[], Turning]) -> None:
    """One thing changed at a time, calculated when it is opened."""
    locked = assessment.route == "buy" and assessment.unit.ownership.lock == "locked-to-owner"
    if assessment.expected_margin is None and not locked:
        return
    with st.expander("What would change the verdict?", key="device-turning", on_change="rerun") as part:
        if not part.open:
            return
        settled, swings = ask_swings()
        words = [settled_words(settled, assessment.currency)] if settled else []
        words += [swing_words(swing) for swing in swings if swing.flips_at is not None]
        if swings and assessment.expected_margin is not None:
            chart = tornado(swings[:_MOST_SWINGS], assessment.expected_margin, assessment.currency)
            alt = "; ".join(words) or "No single change would."
            st.altair_chart(chart, theme=None, key="device-tornado", alt=alt)
            st.caption(
                "Expected margin (average over all outcomes) when one input changes. Solid line: zero. "
                "Dashed line: current answer."
            )
        elif not words:
            words = ["Nothing: the plan does no work on it."]
        st.markdown("\n".join(f"- {literal(line)}" for line in words or ["No single change would."]))


def _list(title: str, lines: Iterable[str]) -> None:
    words = [f"- {literal(line)}" for line in lines if line]
    if words:
        st.subheader(title, anchor=False)
        st.markdown("\n".join(words))
