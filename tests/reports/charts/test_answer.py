import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.reports.one_answer import DOTS, LINES
from tests.tiers import holds_for
from triage.policy.answer.assessment import MoneyLine
from triage.policy.pricing.sensitivity import Swing
from triage.reports.charts.answer import (
    GAIN,
    LOSS,
    column_width,
    dotplot,
    dotplot_words,
    stacked_dots,
    tornado,
    waterfall,
)

MARGINS = st.lists(st.floats(-2e4, 2e4), min_size=2, max_size=50)


def layers(chart):
    spec = chart.to_dict()
    return spec, {layer["mark"]["type"]: layer for layer in spec["layer"]}


@given(MARGINS)
def test_no_column_of_dots_is_half_loss(margins):
    width = column_width(margins)
    for dot in stacked_dots(margins):
        left, right = dot["column"] - width / 2, dot["column"] + width / 2
        assert right <= width * 1e-9 or left >= -width * 1e-9
        assert (dot["column"] < 0) == (dot["outcome"] == "loses money")


@given(MARGINS)
def test_each_margin_stands_in_its_own_column_and_stacks_have_no_gaps(margins):
    width = column_width(margins)
    dots = stacked_dots(margins)
    assert sorted(dot["margin"] for dot in dots) == sorted(margins)
    for dot in dots:
        assert abs(dot["margin"] - dot["column"]) <= width / 2 + 0.0051
    for column in {dot["column"] for dot in dots}:
        levels = [dot["level"] for dot in dots if dot["column"] == column]
        assert sorted(levels) == list(range(1, len(levels) + 1))


@holds_for(MARGINS, few=10, many=100)
def test_the_dots_fit_a_phone(margins):
    spec = dotplot(margins, "EUR").to_dict()
    assert 0 < spec["width"] <= 358  # a 390 px screen less its margins


def test_losses_are_vermillion_diamonds_and_gains_blue_circles():
    spec, marks = layers(dotplot(DOTS, "EUR"))
    dots = marks["point"]["encoding"]
    assert dots["color"]["scale"] == {"domain": ["loses money", "gains"], "range": [LOSS, GAIN]}
    assert dots["shape"]["scale"] == {"domain": ["loses money", "gains"], "range": ["diamond", "circle"]}
    outcomes = [row["outcome"] for row in marks["point"]["data"]["values"]]
    assert outcomes.count("loses money") == 4 and len(outcomes) == 20
    assert marks["rule"]["data"]["values"] == [{"column": 0}]
    assert (LOSS, GAIN) == ("#D55E00", "#0072B2")  # Okabe and Ito 2002, revised 2008


def test_the_words_count_what_the_picture_shows():
    words = dotplot_words(DOTS, "EUR")
    assert words.startswith("4 of 20 devices like this lose money")
    assert "18 margins are between −€61 and €132" in words


@pytest.mark.parametrize("margin", [-0.004, 0.0, 0.004])
def test_a_rounding_error_is_not_a_loss(margin):
    assert stacked_dots([margin, 10.0])[0]["outcome"] == "gains"


def test_axis_labels_are_money_in_the_program_s_own_format():
    spec, marks = layers(dotplot([-1500.0, 2500.0], "EUR"))
    axis = marks["point"]["encoding"]["x"]["axis"]
    assert 0 in axis["values"]
    assert "−€" in axis["labelExpr"] and "-€" not in axis["labelExpr"]


def test_waterfall_bars_start_where_the_last_one_ended():
    spec, marks = layers(waterfall(LINES, "EUR"))
    rows = marks["bar"]["data"]["values"]
    level = 0.0
    for row, line in zip(rows[:-1], LINES, strict=True):
        assert row["start"] == pytest.approx(level)
        level += line.amount
        assert row["end"] == pytest.approx(level)
        assert row["sign"] == ("in" if line.amount >= 0 else "out")
    assert (rows[-1]["start"], rows[-1]["end"]) == (0.0, pytest.approx(48.25))
    assert [row["money"] for row in rows] == ["+€250.00", "−€60.00", "−€81.50", "−€60.25", "+€48.25"]


def test_a_long_label_is_broken_over_lines():
    long = MoneyLine("selling and payment fees, postage, disposal", -10.0)
    rows = layers(waterfall([long], "EUR"))[1]["bar"]["data"]["values"]
    assert max(len(part) for part in rows[0]["line"].split("\n")) <= 24
    assert rows[0]["line"].replace("\n", " ") == long.label


@given(MARGINS)
def test_column_width_is_a_round_sum_of_money(margins):
    width = column_width(margins)
    lead = width / 10 ** math.floor(math.log10(width) + 1e-9)
    assert any(lead == pytest.approx(step) for step in (1, 2, 2.5, 5))


def test_tornado_bars_span_what_one_thing_does_to_the_margin():
    swings = [
        Swing("sale price", "times", 1.0, 0.75, 1.35, -40.0, 160.0, 0.9),
        Swing("bench minutes", "times", 1.0, 0.75, 1.35, 70.0, 20.0, None),
    ]
    spec, marks = layers(tornado(swings, 48.25, "EUR"))
    rows = marks["bar"]["data"]["values"]
    assert [(row["start"], row["end"]) for row in rows] == [(-40.0, 160.0), (20.0, 70.0)]
    assert [row["money"] for row in rows] == ["−€40 to €160", "€20 to €70"]
    rules = [
        layer["data"]["values"][0]["start"] for layer in spec["layer"] if layer["mark"]["type"] == "rule"
    ]
    assert rules == [0, 48.25]
