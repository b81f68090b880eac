"""Charts of assumptions: assumption, record and fit, kind by kind; and what one implies for twenty devices.

The assumption is a purple diamond, the record a black square, the fit a blue circle:
shape as well as colour. The dots are a quantile dotplot (Kay, Kola, Hullman and
Munson 2016, doi:10.1145/2858036.2858558).
"""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Sequence

import altair as alt

from triage.elicitation.beside_record import BesideRecord, Estimate
from triage.elicitation.prior_predictive import PredictedCount
from triage.reports.charts.answer import GAIN, INK, fitted, line_axis
from triage.reports.wording.assumption import COUNTED, POSTERIOR, PRIOR, counted_words, estimate_words

# Okabe and Ito, Color Universal Design (2002, revised 2008).
BELIEF = "#CC79A7"
SIDES = (PRIOR, COUNTED, POSTERIOR)
_COLOURS, _SHAPES = [BELIEF, INK, GAIN], ["diamond", "square", "circle"]
_ROW, _DOT = 48, 16  # pixels
_LABEL_LETTERS = 22


def standing_chart(rows: Sequence[BesideRecord]) -> alt.LayerChart:
    """Each kind's assumption, record and fit of 20; assumption and fit with their 90 % interval."""
    marks = [mark for row in rows for mark in _marks(row)]
    order = [_wrapped(row.name) for row in rows]
    base = alt.Chart(alt.Data(values=marks)).encode(
        y=line_axis(order, 150, "kind", domain=False, scale=alt.Scale(paddingInner=0.3)),
        yOffset=alt.YOffset("side:N", sort=list(SIDES), scale=alt.Scale(domain=list(SIDES))),
        color=alt.Color(
            "side:N", sort=list(SIDES), scale=alt.Scale(domain=list(SIDES), range=_COLOURS), legend=_legend()
        ),
        tooltip=[alt.Tooltip("kind:N", title="damage kind"), alt.Tooltip("words:N", title="of 20")],
    )
    x = alt.X(
        "of_20:Q",
        scale=alt.Scale(domain=[0, 20], nice=False),
        axis=alt.Axis(title="fixed, of 20", values=[0, 5, 10, 15, 20], labelColor=INK, titleColor=INK),
    )
    reach = base.mark_rule(strokeWidth=2).encode(x=alt.X("low:Q"), x2="high:Q")
    points = base.mark_point(filled=True, opacity=1, size=75).encode(
        x=x,
        shape=alt.Shape(
            "side:N", sort=list(SIDES), scale=alt.Scale(domain=list(SIDES), range=_SHAPES), legend=_legend()
        ),
    )
    return fitted(alt.layer(reach, points), _ROW * len(rows))


def standing_words(rows: Sequence[BesideRecord]) -> str:
    """Say in words what the chart shows, for screen readers."""
    return "; ".join(
        f"{row.name}: {PRIOR} {estimate_words(row.prior)}, {COUNTED} {counted_words(row)}, "
        f"{POSTERIOR} {estimate_words(row.posterior)}"
        for row in rows
    )


def count_dots(count: PredictedCount, stated: bool) -> alt.Chart:
    """Twenty equally likely runs of 20 devices: how many of each are fixed, a dot a run."""
    levels: Counter[int] = Counter()
    dots = []
    for fixed in sorted(count.twenty):
        levels[fixed] += 1
        dots.append({"fixed": fixed, "level": levels[fixed]})
    tall = max(levels.values())
    ticks = [value for value in (0, 5, 10, 15, 20) if value <= count.of]
    axis = alt.Axis(title=f"fixed, of {count.of}", values=ticks, grid=False, labelColor=INK, titleColor=INK)
    shape, colour = ("circle", GAIN) if stated else ("diamond", BELIEF)
    return (
        alt.Chart(alt.Data(values=dots))
        .mark_point(filled=True, opacity=1, size=120, shape=shape, color=colour)
        .encode(
            x=alt.X("fixed:Q", scale=alt.Scale(domain=[-0.5, count.of + 0.5], nice=False), axis=axis),
            y=alt.Y("level:Q", scale=alt.Scale(domain=[0.4, tall + 0.6], nice=False, zero=False), axis=None),
            tooltip=[alt.Tooltip("fixed:Q", title="fixed")],
        )
        .properties(
            width=_DOT * (count.of + 1), height=_DOT * tall + 8, autosize=alt.AutoSizeParams(type="pad")
        )
        .configure_view(strokeWidth=0)
    )


def _marks(row: BesideRecord) -> list[dict]:
    """What one kind's lines draw; no record mark where none was attempted."""
    kind = _wrapped(row.name)
    marks = [_mark(kind, PRIOR, row.prior), _mark(kind, POSTERIOR, row.posterior)]
    if row.attempts:
        share = 20 * row.fixed / row.attempts
        mark = {"of_20": share, "low": share, "high": share, "words": counted_words(row)}
        marks.insert(1, {"kind": kind, "side": COUNTED, **mark})
    return marks


def _mark(kind: str, side: str, found: Estimate) -> dict:
    low, mean, high = (20 * value for value in (found.low, found.mean, found.high))
    return {
        "kind": kind, "side": side, "of_20": mean, "low": low, "high": high, "words": estimate_words(found)
    }  # fmt: skip


def _wrapped(label: str) -> str:
    """At most two lines: the table has the whole name."""
    return "\n".join(textwrap.wrap(label, _LABEL_LETTERS, max_lines=2, placeholder=" …")) or label


def _legend() -> alt.Legend:
    return alt.Legend(title=None, orient="top", direction="horizontal", labelColor=INK, labelFontSize=12)
