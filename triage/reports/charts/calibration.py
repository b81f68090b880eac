"""Charts of forecasts against outcomes: the reliability diagram, and groups side by side."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import altair as alt

from triage.domain.counts import in_twenty
from triage.reports.charts.answer import GAIN, INK, LOSS, fitted, line_axis
from triage.review.forecasts.backtest import Group
from triage.review.forecasts.reliability import ReliabilityBin

_OFF = ["within chance", "more than chance explains"]
_TICKS = [0, 5, 10, 15, 20]


def reliability_chart(bins: Sequence[ReliabilityBin]) -> alt.LayerChart:
    """Forecast of 20 across; worked of 20 up, with its 90 % interval; counts beside the points."""
    rows = [
        {
            "forecast": 20 * one.forecast, "worked": 20 * one.happened.value, "low": 20 * one.happened.low,
            "high": 20 * one.happened.high, "count": f"{one.happened.of:,}", "held": _held(one),
            "words": _words(one),
        }
        for one in bins
    ]  # fmt: skip
    across = alt.X(
        "forecast:Q", scale=alt.Scale(domain=[0, 20]),
        axis=alt.Axis(title="forecast, of 20", values=_TICKS, labelColor=INK, titleColor=INK, grid=False),
    )  # fmt: skip
    up = alt.Y(
        "worked:Q", scale=alt.Scale(domain=[0, 20]),
        axis=alt.Axis(title="worked, of 20", values=_TICKS, labelColor=INK, titleColor=INK),
    )  # fmt: skip
    base = alt.Chart(alt.Data(values=rows))
    ends = [{"forecast": 0, "worked": 0}, {"forecast": 20, "worked": 20}]
    true = alt.Chart(alt.Data(values=ends)).mark_line(color=INK, strokeDash=[4, 3], strokeWidth=1)
    reach = base.mark_rule(color=INK, strokeWidth=2).encode(x=across, y=alt.Y("low:Q"), y2="high:Q")
    points = base.mark_point(filled=True, opacity=1, size=90).encode(
        x=across,
        y=up,
        color=alt.Color("held:N", scale=alt.Scale(domain=_OFF, range=[GAIN, LOSS]), legend=None),
        shape=alt.Shape("held:N", scale=alt.Scale(domain=_OFF, range=["circle", "diamond"]), legend=None),
        tooltip=[alt.Tooltip("words:N", title="attempts")],
    )
    counts = base.mark_text(align="left", dx=8, dy=8, color=INK, fontSize=11).encode(
        x=across, y=up, text="count:N"
    )
    return fitted(alt.layer(true.encode(x=across, y=up), reach, points, counts), 320)


def reliability_words(bins: Sequence[ReliabilityBin]) -> str:
    """Say each point of the diagram; also its text for screen readers."""
    return "; ".join(_words(one) for one in bins) + "."


def group_chart(groups: Sequence[Group]) -> alt.LayerChart:
    """Each group a line: what worked of 20 with its 90 % interval, and the forecast as a tick."""
    rows: list[dict[str, Any]] = [
        {
            "group": f"{one.name}, {one.attempts:,} attempts", "forecast": 20 * one.forecast,
            "worked": 20 * one.happened.value, "low": 20 * one.happened.low, "high": 20 * one.happened.high,
            "held": _held(one), "words": _words(one),
        }
        for one in groups
    ]  # fmt: skip
    across = alt.Scale(domain=[0, 20])
    axis = alt.Axis(title="worked and forecast, of 20", values=_TICKS, labelColor=INK, titleColor=INK)
    base = alt.Chart(alt.Data(values=rows)).encode(y=line_axis([row["group"] for row in rows], 190, "group"))
    reach = base.mark_rule(color=INK, strokeWidth=2).encode(
        x=alt.X("low:Q", scale=across, axis=axis), x2="high:Q"
    )
    points = base.mark_point(filled=True, opacity=1, size=80).encode(
        x=alt.X("worked:Q", scale=across, axis=axis),
        color=alt.Color("held:N", scale=alt.Scale(domain=_OFF, range=[GAIN, LOSS]), legend=None),
        shape=alt.Shape("held:N", scale=alt.Scale(domain=_OFF, range=["circle", "diamond"]), legend=None),
        tooltip=[alt.Tooltip("words:N", title="attempts")],
    )
    forecast = base.mark_tick(color=INK, thickness=3, size=16).encode(
        x=alt.X("forecast:Q", scale=across, axis=axis), tooltip=[alt.Tooltip("words:N", title="attempts")]
    )
    return fitted(alt.layer(reach, forecast, points), 26 * len(rows) + 30)


def group_words(groups: Sequence[Group]) -> str:
    """Say each line; also the chart's text for screen readers."""
    return "; ".join(f"{one.name}: {_words(one)}" for one in groups) + "."


def _held(one: ReliabilityBin | Group) -> str:
    return _OFF[0] if one.happened.low <= one.forecast <= one.happened.high else _OFF[1]


def _words(one: ReliabilityBin | Group) -> str:
    share = one.happened
    worked = f"{share.held:,} of {share.of:,} worked ({in_twenty(share.value)})"
    return f"forecast {in_twenty(one.forecast)}, {worked}"
