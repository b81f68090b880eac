"""Chart of the money review: partially pooled means with their intervals, in the order of the table."""

from __future__ import annotations

import altair as alt

from triage.domain.money import is_loss, money_text
from triage.reports.charts.answer import GAIN, INK, LOSS, fitted, line_axis, wrapped
from triage.review.money.money_review import MoneyGroup, MoneyReview

MOST_ROWS = 20
_ROW = 38  # pixels: three lines of a label
_LABEL_LETTERS = 28


def charted(review: MoneyReview, most: int = MOST_ROWS) -> tuple[MoneyGroup, ...]:
    """Groups that the chart shows, in order: half of the rows for the worst, half for the best."""
    groups = tuple(group for group in review.groups if group.mean is not None)
    if len(groups) <= most:
        return groups
    return groups[: most - most // 2] + groups[len(groups) - most // 2 :]


def mean_intervals(review: MoneyReview, most: int = MOST_ROWS) -> alt.LayerChart:
    """Partially pooled mean margin a job of each group: a point, and its 90 % credible interval as a line.

    A loss is a diamond, a gain a circle; the interval in figures is in the tooltip.
    """
    rows = [
        {
            "line": _wrapped(group), "mean": mean.mean, "low": mean.low, "high": mean.high,
            "outcome": _outcome(mean.mean), "money": _mean_words(group, review.currency),
            "short": money_text(mean.mean, review.currency, whole=True),
        }
        for group in charted(review, most)
        if (mean := group.mean) is not None
    ]  # fmt: skip
    base = alt.Chart(alt.Data(values=rows)).encode(
        y=_lines(rows), tooltip=[alt.Tooltip("line:N", title="group"), alt.Tooltip("money:N", title="mean")]
    )
    # Room at both ends for the figures, which stand on the side away from zero.
    room = alt.Scale(padding=44)
    reach = base.mark_rule(color=INK, strokeWidth=2).encode(
        x=alt.X("low:Q", axis=None, scale=room), x2="high:Q"
    )
    points = base.mark_point(filled=True, opacity=1, size=80).encode(
        x=alt.X("mean:Q", axis=None, scale=room),
        color=_colour(),
        shape=alt.Shape(
            "outcome:N", scale=alt.Scale(domain=_OUTCOMES, range=["diamond", "circle"]), legend=None
        ),
    )
    loss, gain = (base.transform_filter(alt.datum.outcome == outcome) for outcome in _OUTCOMES)
    words = [
        side.encode(x=alt.X(end, axis=None, scale=room), text="short:N")
        for side, end in (
            (loss.mark_text(align="right", dx=-6, color=INK), "low:Q"),
            (gain.mark_text(align="left", dx=6, color=INK), "high:Q"),
        )
    ]
    return fitted(alt.layer(reach, points, *words, _zero()), _ROW * len(rows))


def review_words(review: MoneyReview, most: int = MOST_ROWS) -> str:
    """Say in words what the chart shows; also its text for screen readers."""
    groups = charted(review, most)
    if not groups:
        return "The record holds no job with a margin."
    if review.by == "technician":
        means = (f"{group.name} {_mean_words(group, review.currency)}" for group in groups)
        return f"Adjusted mean margin a job, in alphabetical order: {'; '.join(means)}."
    losers = sum(is_loss(group.mean.mean) for group in groups if group.mean)
    worst, best = groups[0], groups[-1]
    return (
        f"Mean margin a job, the worst total at the top; {losers} of the {len(groups)} means drawn are "
        f"losses (diamonds). Top: {_said(worst, review.currency)}. Bottom: {_said(best, review.currency)}."
    )


_OUTCOMES = ["loss", "gain"]


def _said(group: MoneyGroup, currency: str) -> str:
    total = money_text(group.total or 0.0, currency, whole=True)
    return f"{_label(group)}: {total} in total, {_mean_words(group, currency)} a job"


def _label(group: MoneyGroup) -> str:
    return f"{group.name}, {group.jobs} job" + ("" if group.jobs == 1 else "s")


def _wrapped(group: MoneyGroup) -> str:
    return wrapped(_label(group), _LABEL_LETTERS)


def _mean_words(group: MoneyGroup, currency: str) -> str:
    assert group.mean is not None  # `charted` leaves out the others
    mean, low, high = (
        money_text(amount, currency, whole=True)
        for amount in (group.mean.mean, group.mean.low, group.mean.high)
    )
    return f"{mean} ({low} to {high})"


def _outcome(money: float) -> str:
    return _OUTCOMES[0] if is_loss(money) else _OUTCOMES[1]


def _colour() -> alt.Color:
    return alt.Color("outcome:N", scale=alt.Scale(domain=_OUTCOMES, range=[LOSS, GAIN]), legend=None)


def _lines(rows: list[dict]) -> alt.Y:
    return line_axis([row["line"] for row in rows], 180)


def _zero() -> alt.Chart:
    at_zero = alt.Chart(alt.Data(values=[{"zero": 0}]))
    return at_zero.mark_rule(color=INK, strokeWidth=1.5).encode(x="zero:Q")
