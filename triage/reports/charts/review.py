"""Charts of the money review: totals as bars, pooled means with their intervals; one order for both."""

from __future__ import annotations

import altair as alt

from triage.domain.money import is_loss, money_text
from triage.reports.charts.answer import GAIN, INK, LOSS, fitted, line_axis, wrapped
from triage.review.money.money_review import MoneyGroup, MoneyReview

MOST_ROWS = 20
_ROW = 38  # pixels: three lines of a label
_LABEL_LETTERS = 28


def charted(review: MoneyReview, most: int = MOST_ROWS) -> tuple[MoneyGroup, ...]:
    """Groups that the charts show, in order: half of the rows for the worst, half for the best."""
    groups = tuple(group for group in review.groups if group.mean is not None)
    if len(groups) <= most:
        return groups
    return groups[: most - most // 2] + groups[len(groups) - most // 2 :]


def total_bars(review: MoneyReview, most: int = MOST_ROWS) -> alt.LayerChart:
    """Total money of each group as a bar, the worst at the top, its number of jobs in its label.

    Raises
    ------
    ValueError : technicians, who have no totals.
    """
    if review.by == "technician":
        raise ValueError("technicians have no totals: they are not ranked")
    rows = [
        {
            "line": _wrapped(group),
            "money": money_text(total, review.currency, whole=True),
            "end": total,
            "right": max(total, 0.0),
            "outcome": _outcome(total),
        }
        for group in charted(review, most)
        if (total := group.total) is not None
    ]
    base = alt.Chart(alt.Data(values=rows)).encode(y=_lines(rows))
    bars = base.mark_bar(height={"band": 0.65}).encode(
        x=alt.X("end:Q", axis=None),
        color=_colour(),
        tooltip=[alt.Tooltip("line:N", title="group"), alt.Tooltip("money:N", title="total")],
    )
    words = base.mark_text(align="left", dx=4, color=INK).encode(x="right:Q", text="money:N")
    return fitted(alt.layer(bars, words, _zero()), _ROW * len(rows))


def mean_intervals(review: MoneyReview, most: int = MOST_ROWS) -> alt.LayerChart:
    """Pooled mean margin a job of each group: a point, and its 90 % interval as a line.

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
    """Say in words what the two charts show; also their text for screen readers."""
    groups = charted(review, most)
    if not groups:
        return "The record holds no job with a margin."
    if review.by == "technician":
        means = (f"{group.name} {_mean_words(group, review.currency)}" for group in groups)
        return f"Adjusted mean margin a job, in order of the alphabet: {'; '.join(means)}."
    losers = sum(is_loss(group.total or 0.0) for group in review.groups)
    worst, best = groups[0], groups[-1]
    return (
        f"{losers} of {len(review.groups)} lose money (vermillion, diamonds), the worst at the top. "
        f"{_said(worst, review.currency)}. At the bottom, {_said(best, review.currency)}."
    )


_OUTCOMES = ["loses money", "gains"]


def _said(group: MoneyGroup, currency: str) -> str:
    total = money_text(group.total or 0.0, currency, whole=True)
    return f"{_label(group)}: {total} in all, {_mean_words(group, currency)} a job"


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
