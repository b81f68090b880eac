"""Forecasts against outcomes, in words and points: by pencil, text and picture from the same numbers."""

from __future__ import annotations

from triage.reports.charts.calibration import (
    group_chart,
    group_words,
    reliability_chart,
    reliability_words,
)
from triage.reports.wording.calibration import (
    all_words,
    calibration_words,
    decision_words,
    gain_words,
    lead_words,
)
from triage.review.forecasts.backtest import Group
from triage.review.forecasts.calibration import CalibrationTest
from triage.review.forecasts.decision_value import DecisionScore, VetoResult
from triage.review.forecasts.paired_bootstrap import Difference
from triage.review.forecasts.reliability import ReliabilityBin, wilson
from triage.review.forecasts.scores import BrierParts

BINS = (
    ReliabilityBin(0.3, 0.4, 0.35, wilson(30, 80)),
    ReliabilityBin(0.7, 0.8, 0.75, wilson(158, 212)),
    ReliabilityBin(0.9, 1.0, 0.95, wilson(80, 100)),
)
PARTS = BrierParts(0.01, 0.05, 0.15, 0.0)


def test_how_many_groups_agree_leads_and_miscalibrated_groups_are_named():
    assert lead_words(BINS) == "Forecast and outcome agree, within chance, in 2 of 3 groups"
    said = all_words(BINS)
    assert said.startswith("In total, 282 of 392 repairs were expected to work; 268 did.")
    assert (
        "forecast 19.0, worked 16.0 of 20, 100 attempts" in said and "15" not in said.split("1 group has")[1]
    )
    assert "In every group" in all_words(BINS[:2])
    assert lead_words((ReliabilityBin(0.9, 1, 1.0, wilson(1, 1)),)).endswith("in 1 of 1 group")


def test_gains_are_sorted_into_better_open_and_worse():
    better, open_, worse = (
        Difference(0.2, 0.1, 0.3),
        Difference(0.01, -0.1, 0.1),
        Difference(-0.2, -0.3, -0.1),
    )
    said = gain_words({"overall": better, "raw": better, "ridge": open_, "beta": worse})
    assert said == (
        "This model scored better than the overall rate and the smoothed rate per kind. Its difference from "
        "the ridge logistic regression is within chance. It scored worse than the assumption "
        "plus rate per kind."
    )
    assert gain_words({"raw": open_}).startswith("Its difference from the smoothed rate")


def test_calibration_says_over_under_confident_or_neither():
    for z, word in ((0.2, "neither over- nor"), (3.0, "are over-confident"), (-3.0, "are under-confident")):
        said = calibration_words(CalibrationTest(z, 0.5, 0.5, (-1.7, 1.6)), PARTS)
        assert word in said and "Brier score 0.1100" in said and "-1.70 to 1.60" in said
    assert "18 of 20" in calibration_words(CalibrationTest(0.1, 0.9), PARTS)


def test_the_value_of_declining():
    rules = {"model": VetoResult(6, 4, 900.0, -400.0), "take all": VetoResult(10, 0, 500.0, 0.0)}
    score = DecisionScore(10, 2, rules, {"take all": Difference(40.0, 10.0, 70.0)})
    assert decision_words(score, "EUR") == (
        "Of 10 jobs, this model would have declined 4; they lost €400. Value of declining: €40 more margin "
        "a job, over all jobs, than accepting every job (90 % interval €10 to €70)."
    )


def _values(chart):
    spec = chart.to_dict()
    return [part["data"]["values"] for part in (spec, *spec["layer"]) if "data" in part]


def test_pictures_hold_the_numbers_that_the_words_say():
    rows = next(values for values in _values(reliability_chart(BINS)) if len(values) == 3)
    assert [row["count"] for row in rows] == ["80", "212", "100"]
    assert [row["held"] for row in rows] == ["within chance"] * 2 + ["more than chance explains"]
    assert "; ".join(row["words"] for row in rows) + "." == reliability_words(BINS)
    groups = [Group("<b>glass</b>", 80, 0.35, wilson(30, 80), {})]
    (line,) = _values(group_chart(groups))[0]
    assert line["group"] == "<b>glass</b>, 80 attempts" and line["words"] in group_words(groups)
