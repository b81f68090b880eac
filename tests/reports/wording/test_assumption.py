"""Assumptions as pictures and words: they agree, and nothing depends on colour alone."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import expit
from scipy.stats import binom, norm

from triage.elicitation.beside_record import BesideRecord, Estimate
from triage.elicitation.conflict import KindConflict
from triage.elicitation.power_scaling import Sensitivity
from triage.elicitation.prior_predictive import count_from_belief
from triage.priors.kind_beliefs import belief_logit
from triage.priors.success import Belief
from triage.reports.charts.assumption import SIDES, count_dots, standing_chart, standing_words
from triage.reports.json_output.comparison import comparison_object
from triage.reports.wording.assumption import belief_words, conflict_words, count_words, worth_words
from triage.review.forecasts.set_comparison import ComparedSet, Comparison, comparison_from

ROW = BesideRecord(
    "glass", "glass cracked right across the whole front of it", "front", Belief(0.8, 14.0),
    Estimate(0.8, 0.6, 0.95), Estimate(0.93, 0.88, 0.97), 37, 37,
)  # fmt: skip
UNTRIED = BesideRecord(
    "cell", "cell", "back", Belief(0.5, 3.0), Estimate(0.5, 0.1, 0.9), Estimate(0.5, 0.1, 0.9), 0, 0
)


def test_the_dots_are_the_middles_of_twentieths_of_the_exact_distribution():
    count = count_from_belief(0.74, 16.25)
    # The logit of the chance is normal: counted over a fine grid of it.
    mean, sd = belief_logit(0.74, 16.25)
    z = np.linspace(-8, 8, 4001)
    mass = norm.pdf(z) @ binom.pmf(np.arange(21), 20, expit(mean + sd * z)[:, None]) / norm.pdf(z).sum()
    assert list(count.twenty) == np.searchsorted(np.cumsum(mass), (np.arange(20) + 0.5) / 20).tolist()
    dots = count_dots(count, stated=True).to_dict()["data"]["values"]
    assert sorted(dot["fixed"] for dot in dots) == sorted(count.twenty)
    inner = sorted(count.twenty)[1:-1]
    assert count_words(count).startswith(f"in 18 of 20 runs, {inner[0]} to {inner[-1]} of 20")
    assert count_dots(count, stated=True).to_dict()["width"] <= 358  # a phone less its margins


def test_assumption_record_and_fit_differ_in_shape_as_well_as_colour():
    spec = standing_chart([ROW, UNTRIED]).to_dict()
    points = next(layer for layer in spec["layer"] if layer["mark"]["type"] == "point")["encoding"]
    for channel in ("shape", "color"):
        scale = points[channel]["scale"]
        assert scale["domain"] == list(SIDES) and len(set(scale["range"])) == 3
    marks = spec["data"]["values"]
    assert [mark["side"] for mark in marks] == [*SIDES, SIDES[0], SIDES[2]]
    assert marks[1]["of_20"] == 20 and marks[1]["words"] == "37 of 37 fixed"
    assert all(len(mark["kind"].split("\n")) <= 2 for mark in marks)
    assert "record none attempted" in standing_words([UNTRIED])


@pytest.mark.parametrize(
    ("shift", "said"),
    [
        (0.02, "The record moves the chance up; your assumption moves it down."),
        (-0.02, "The record moves the chance down; your assumption moves it up."),
    ],
)
def test_a_disagreement_says_which_moves_the_chance_which_way(shift, said):
    found = KindConflict("glass", Sensitivity(0.2, -shift, -1, 0.1), Sensitivity(0.3, shift, 1, 0.9))
    words = conflict_words(ROW, found)
    assert said in words and "Assumption: about 16 in 20, worth 14 jobs" in words
    assert "19 in 20 (18 to 19)" in words and "Few draws support this" in words


def test_an_assumption_is_a_count_and_the_jobs_it_is_worth():
    assert belief_words(Belief(0.74, 16.25)) == "about 15 in 20, worth 16 jobs"
    assert belief_words(Belief(0.99, 14.0)) == "more than 19 in 20, worth 14 jobs"
    assert [worth_words(jobs) for jobs in (1, 2.5, 16.25)] == [
        "worth 1 job", "worth 2.5 jobs", "worth 16 jobs"
    ]  # fmt: skip


def test_a_comparison_says_failed_fits_and_comes_back_from_its_object():
    found = Comparison(
        None, 650, 900,
        (
            ComparedSet("demo", 0.14, 0.44, 0.64, 4, 0),
            ComparedSet("mine", 0.15, 0.46, 0.66, 4, 1, -0.02, -0.03, -0.01),
        ),
    )  # fmt: skip
    held = comparison_object(found)
    assert comparison_from(held) == found and held["sets"][1]["failed_fits"] == 1
    assert found.sets[1].words == "forecasts worse than the first" and found.sets[0].words == ""
    assert found.sets[1].failed_words.startswith("1 of its 4 fits failed")
