"""Charts of money, as Altair charts: a quantile dotplot, a waterfall, a tornado.

Gain is blue and a circle or an upward sign, loss is vermillion and a diamond
or a minus sign, so nothing hangs on colour alone. The dotplot is the quantile
dotplot of Kay, Kola, Hullman and Munson (2016), doi:10.1145/2858036.2858558.
"""

from __future__ import annotations

import json
import math
import textwrap
from collections import Counter
from collections.abc import Sequence
from typing import Any, cast

import altair as alt

from triage.domain.money import is_loss, money_text
from triage.policy.answer.assessment import MoneyLine
from triage.policy.pricing.sensitivity import Swing
from triage.posterior.interval import LEVEL

# Okabe and Ito, Color Universal Design (2002, revised 2008).
GAIN, LOSS, TOTAL, INK = "#0072B2", "#D55E00", "#3a4148", "#0b0f13"
_STEP = 20  # pixels a column takes: 16 of them fit a phone
_TALLEST = 180  # pixels: a taller stack gets smaller dots
_MOST_COLUMNS = 16
_ROW = 32  # pixels: two lines of a label
# Money of a chart that could be read as one price.
_AVERAGE = alt.TitleParams(
    "money: average over all outcomes", anchor="start", fontSize=12, fontWeight="normal", color=INK
)
# A rounding error below zero is not a loss.


def line_axis(
    order: Sequence[str], limit: int = 170, field: str = "line", domain: bool = True, **more: Any
) -> alt.Y:
    """One row a line of text, in the given order; a label may be wrapped.

    limit : pixels of the longest label. domain : whether a line stands beside the labels.
    more : further options of the encoding.
    """
    axis = alt.Axis(
        title=None,
        labelExpr="split(datum.label, '\\n')",
        labelLimit=limit,
        labelOverlap=False,
        labelFontSize=11,
        labelLineHeight=12,
        labelBaseline="middle",
        labelColor=INK,
        ticks=False,
        domain=domain,
    )
    return alt.Y(f"{field}:N", sort=list(order), axis=axis, **more)


def fitted(chart: alt.LayerChart | alt.FacetChart, height: int) -> alt.LayerChart:
    """As wide as the page, and as high as its rows need (the axis not counted in)."""
    # `alt.layer` makes a chart of facets only of charts that have them; none here has.
    return (
        cast(alt.LayerChart, chart)
        .properties(height=height, autosize=alt.AutoSizeParams(type="fit-x", contains="padding"))
        .configure_view(strokeWidth=0)
    )


def wrapped(label: str, letters: int = 24) -> str:
    """A label over as many lines as it needs."""
    return "\n".join(textwrap.wrap(label, letters))


def column_width(margins: Sequence[float]) -> float:
    """Width of a column in money: the least round one that needs no more columns than fit."""
    low, high = min(*margins, 0.0), max(*margins, 0.0)
    rough = max(high - low, 1.0) / (_MOST_COLUMNS - 2)
    size = 10.0 ** math.floor(math.log10(rough))
    return next(size * step for step in (1, 2, 2.5, 5, 10) if size * step >= rough * (1 - 1e-9))


def stacked_dots(margins: Sequence[float]) -> list[dict]:
    """Place each margin in a column that lies wholly at one side of zero.

    Returns
    -------
    list of dict : one a margin, with `column` (its middle, money), `level`
        (its height in the stack, from 1), `margin` and `outcome`.
    """
    width = column_width(margins)
    levels: Counter[int] = Counter()
    dots = []
    for margin in sorted(margins):
        loss = is_loss(margin)
        column = math.floor(margin / width)
        column = min(column, -1) if loss else max(column, 0)
        levels[column] += 1
        dots.append(
            {
                "column": (column + 0.5) * width,
                "level": levels[column],
                "margin": margin,
                "outcome": "loses money" if loss else "gains",
            }
        )
    return dots


def dotplot(margins: Sequence[float], currency: str) -> alt.LayerChart:
    """Equally likely margins as dots: loss diamonds, gain circles, a rule at zero."""
    dots = stacked_dots(margins)
    width = column_width(margins)
    middles = [dot["column"] for dot in dots]
    low, high = min(*middles, 0.0) - width, max(*middles, 0.0) + width
    columns = round((high - low) / width)
    tall = max(dot["level"] for dot in dots)
    row = min(_STEP, _TALLEST / tall)
    every = max(1, round(columns / 4)) * width
    ticks = [k * every for k in range(math.ceil(low / every - 1e-9), math.floor(high / every + 1e-9) + 1)]
    rows = [{**dot, "money": money_text(dot["margin"], currency, whole=True)} for dot in dots]
    x = alt.X(
        "column:Q",
        scale=alt.Scale(domain=[low, high], nice=False, zero=False),
        axis=alt.Axis(
            title="margin",
            values=ticks,
            labelExpr=_labels(ticks, currency),
            grid=False,
            labelColor=INK,
        ),
    )
    outcomes = ["loses money", "gains"]
    marks = (
        alt.Chart(alt.Data(values=rows))
        .mark_point(filled=True, opacity=1, size=170 * (row / _STEP) ** 2)
        .encode(
            x=x,
            y=alt.Y("level:Q", scale=alt.Scale(domain=[0.4, tall + 0.6], nice=False, zero=False), axis=None),
            color=alt.Color("outcome:N", scale=alt.Scale(domain=outcomes, range=[LOSS, GAIN]), legend=None),
            shape=alt.Shape(
                "outcome:N", scale=alt.Scale(domain=outcomes, range=["diamond", "circle"]), legend=None
            ),
            tooltip=[alt.Tooltip("money:N", title="margin")],
        )
    )
    zero = (
        alt.Chart(alt.Data(values=[{"column": 0}])).mark_rule(color=INK, strokeWidth=1.5).encode(x="column:Q")
    )
    return (
        alt.layer(zero, marks)
        .properties(width=columns * _STEP, height=round(tall * row), autosize=alt.AutoSizeParams(type="pad"))
        .configure_view(strokeWidth=0)
    )


def dotplot_words(margins: Sequence[float], currency: str) -> str:
    """Say in one sentence what the dots show; also the chart's text for screen readers."""
    losses = sum(is_loss(margin) for margin in margins)
    ordered = sorted(margins)
    out = round(len(ordered) * (1 - LEVEL) / 2)
    inner = ordered[out : len(ordered) - out]
    low, high = (money_text(value, currency, whole=True) for value in (inner[0], inner[-1]))
    return (
        f"{losses} of {len(ordered)} devices like this lose money (diamonds), {len(ordered) - losses} do not "
        f"(circles); {len(inner)} margins are between {low} and {high}."
    )


def waterfall(lines: Sequence[MoneyLine], currency: str) -> alt.LayerChart:
    """Money line by line, each bar starting where the last one ended, and the total below."""
    rows, level = [], 0.0
    for line in lines:
        rows.append(_bar(line.label, level, level + line.amount, line.amount, currency))
        level += line.amount
    rows.append({**_bar("Expected margin", 0.0, level, level, currency), "sign": "total"})
    bars = alt.Chart(alt.Data(values=rows)).encode(y=line_axis([row["line"] for row in rows]))
    blocks = bars.mark_bar(height={"band": 0.7}).encode(
        x=alt.X("start:Q", axis=None),
        x2="end:Q",
        color=alt.Color(
            "sign:N", scale=alt.Scale(domain=["in", "out", "total"], range=[GAIN, LOSS, TOTAL]), legend=None
        ),
        tooltip=[alt.Tooltip("line:N", title="item"), alt.Tooltip("money:N", title="amount")],
    )
    words = bars.mark_text(align="left", dx=4, color=INK).encode(x="right:Q", text="money:N")
    zero = alt.Chart(alt.Data(values=[{"start": 0}])).mark_rule(color=INK).encode(x="start:Q")
    return fitted(alt.layer(blocks, words, zero), _ROW * len(rows)).properties(title=_AVERAGE)


def _bar(label: str, start: float, end: float, amount: float, currency: str) -> dict:
    signed = money_text(amount, currency)
    return {
        "line": wrapped(label),
        "start": start,
        "end": end,
        "right": max(start, end),
        "sign": "in" if amount >= 0 else "out",
        "money": f"+{signed}" if amount > 0 else signed,
    }


def tornado(swings: Sequence[Swing], expected: float, currency: str) -> alt.LayerChart:
    """Expected margin as one input at a time goes from low to high; lines at zero and at the answer."""
    rows: list[dict[str, Any]] = []
    for swing in swings:
        low, high = sorted((swing.margin_low, swing.margin_high))
        words = f"{money_text(low, currency, whole=True)} to {money_text(high, currency, whole=True)}"
        rows.append({"line": wrapped(swing.name), "start": low, "end": high, "right": high, "money": words})
    base = alt.Chart(alt.Data(values=rows)).encode(y=line_axis([row["line"] for row in rows]))
    bars = base.mark_bar(height={"band": 0.6}, color=GAIN).encode(
        x=alt.X("start:Q", axis=None),
        x2="end:Q",
        tooltip=[alt.Tooltip("line:N", title="input"), alt.Tooltip("money:N", title="expected margin")],
    )
    words = base.mark_text(align="left", dx=4, color=INK).encode(x="right:Q", text="money:N")
    zero = (
        alt.Chart(alt.Data(values=[{"start": 0}])).mark_rule(color=INK, strokeWidth=1.5).encode(x="start:Q")
    )
    now = alt.Chart(alt.Data(values=[{"start": expected}])).mark_rule(color=INK, strokeDash=[3, 3])
    chart = fitted(alt.layer(bars, words, zero, now.encode(x="start:Q")), _ROW * len(rows))
    return chart.properties(title=_AVERAGE)


def _labels(ticks: Sequence[float], currency: str) -> str:
    """Vega expression that writes each tick as money, in the program's own format."""
    whole = all(tick == round(tick) for tick in ticks)
    words = [money_text(tick, currency, whole) for tick in ticks]
    return f"{json.dumps(words, ensure_ascii=False)}[indexof({json.dumps(list(ticks))}, datum.value)]"
