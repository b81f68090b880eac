"""Chart of predictive checks: where the record lies in what the fit expects, one line a figure."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import altair as alt

from triage.posterior.manifest import PredictiveCheck
from triage.reports.charts.answer import GAIN, INK, LOSS, fitted, line_axis, wrapped
from triage.reports.wording.fit import check_figures, check_words

_ROW = 36  # pixels: two lines of a label
_LABEL_LETTERS = 28
# Half widths of the interval from its middle at which a far-out record is drawn.
_FARTHEST = 3.0
_PLACES = ["inside", "just outside", "far outside"]


def place_words(check: PredictiveCheck) -> str:
    """Where the record lies: "inside", "just outside" or "far outside"."""
    return _PLACES[0] if check.inside else _PLACES[2] if check.fails else _PLACES[1]


def checks_chart(checks: Sequence[PredictiveCheck]) -> alt.LayerChart:
    """Draw each record as a point on the bar that nine in ten replicated records lie in.

    Every bar has the same length, whatever its unit; what lies farther out than the chart
    reaches stands at its edge.
    """
    rows: list[dict[str, Any]] = []
    for check in checks:
        record, expected = check_figures(check)
        rows.append(
            {
                "line": wrapped(check.quantity, _LABEL_LETTERS),
                "record": record,
                "expected": expected,
                "place": place_words(check),
                "at": _at(check),
                "low": -1.0,
                "high": 1.0,
            }
        )
    base = alt.Chart(alt.Data(values=rows)).encode(
        y=line_axis([row["line"] for row in rows], 190, domain=False),
        tooltip=[
            alt.Tooltip("line:N", title="figure"),
            alt.Tooltip("record:N", title="record"),
            alt.Tooltip("expected:N", title="90 % range of the fit"),
        ],
    )
    reach = alt.Scale(domain=[-_FARTHEST - 0.3, _FARTHEST + 0.3])
    bars = base.mark_bar(height=10, fill="#cfe3f1", stroke=GAIN, strokeWidth=1).encode(
        x=alt.X("low:Q", axis=None, scale=reach), x2="high:Q"
    )
    points = base.mark_point(filled=True, opacity=1, size=90).encode(
        x=alt.X("at:Q", axis=None, scale=reach),
        color=alt.Color("place:N", scale=alt.Scale(domain=_PLACES, range=[GAIN, INK, LOSS]), legend=None),
        shape=alt.Shape(
            "place:N", scale=alt.Scale(domain=_PLACES, range=["circle", "square", "diamond"]), legend=None
        ),
    )
    return fitted(alt.layer(bars, points), _ROW * len(rows))


def chart_words(checks: Sequence[PredictiveCheck]) -> str:
    """Say in words what the chart shows; also its text for screen readers."""
    outside = [f"{check.quantity}: {check_words(check)}" for check in checks if not check.inside]
    inside = f"{len(checks) - len(outside)} of {len(checks)} figures of the record are inside the bars"
    return "; ".join([inside, *outside]) + "."


def _at(check: PredictiveCheck) -> float:
    """Place of the record when the interval reaches from -1 to 1."""
    middle, half = (check.high + check.low) / 2, (check.high - check.low) / 2
    if half == 0:  # every replicated record has the same figure
        return 0.0 if check.inside else _FARTHEST * (1 if check.observed > middle else -1)
    return min(max((check.observed - middle) / half, -_FARTHEST), _FARTHEST)
