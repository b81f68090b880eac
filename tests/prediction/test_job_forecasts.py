"""Forecasts given a job's earlier outcomes, compared with brute force on a tiny posterior."""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy.special import expit

from tests.prediction.test_success import CATALOGUE, made_draws
from triage.prediction.attempt_chances import attempt_chances
from triage.prediction.job_forecasts import all_fixed_chances, job_forecasts
from triage.prediction.success import success_logits
from triage.priors.fresh_job import inside_logit

DRAWS = made_draws(3, seed=8).assign(job_sd=("draw", [0.3, 0.5, 0.7]))
GRID = np.linspace(-9, 9, 2001)
DENSITY = np.exp(-(GRID**2) / 2) / np.exp(-(GRID**2) / 2).sum()

# Two jobs, their rows mixed. The first fails at kind 0, fixes kind 3, then tries kind 0 another way.
TABLE = pd.DataFrame(
    [
        ("a", "kind-0", 3, "top", "fix-0", False, -1),
        ("b", "kind-1", 1, "", "fix-1", True, -1),
        ("a", "kind-3", 2, "top", "fix-3", True, -1),
        ("a", "kind-0", 3, "top", "other-way", True, 0),
        ("b", "kind-5", 2, "", "fix-5", False, -1),
    ],
    columns=["job", "kind", "severity", "tier", "method", "fixed", "after"],
).assign(technician="", cause="")


def logits():
    """By hand: the logit of the second try is lowered by the effect of another method's failure."""
    labels = (TABLE[name].tolist() for name in ("kind", "severity", "tier", "technician", "cause", "method"))
    lowered = np.outer(DRAWS["after_failure"].to_numpy(), TABLE["after"] >= 0)
    return success_logits(DRAWS, CATALOGUE, *labels) - lowered


def joint(rows, outcomes):
    """Chance of outcomes of one job: mean over draws, integral over the job effect."""
    total = 0.0
    for draw, sd in enumerate(DRAWS["job_sd"].to_numpy()):
        chance = expit(inside_logit(logits()[draw, rows], sd)[:, None] + sd * GRID)
        factors = np.where(np.array(outcomes)[:, None], chance, 1 - chance)
        total += (factors.prod(axis=0) * DENSITY).sum() / DRAWS.sizes["draw"]
    return total


def test_forecasts_are_ratios_of_joint_chances():
    found = job_forecasts(attempt_chances(DRAWS, TABLE, CATALOGUE), TABLE)
    exact = [
        joint([0], [True]),
        joint([1], [True]),
        joint([0, 2], [False, True]) / joint([0], [False]),
        joint([0, 2, 3], [False, True, True]) / joint([0, 2], [False, True]),
        joint([1, 4], [True, True]) / joint([1], [True]),
    ]
    np.testing.assert_allclose(found, exact, atol=1e-5)


def test_with_one_draw_a_failure_lowers_and_a_success_raises_what_comes_after():
    one = DRAWS.isel(draw=[2])  # else a first outcome also says which draw is the likelier
    first = {}
    for fixed in (True, False):
        held = TABLE.iloc[[0, 2]].assign(fixed=fixed)
        first[fixed] = job_forecasts(attempt_chances(one, held, CATALOGUE), held)
    alone = job_forecasts(attempt_chances(one, TABLE.iloc[[2]], CATALOGUE), TABLE.iloc[[2]])
    assert first[True][0] == first[False][0]
    assert first[True][1] > alone[0] > first[False][1]


def test_all_repairs_of_a_job_together():
    found = all_fixed_chances(DRAWS, TABLE.drop(index=3), CATALOGUE, np.eye(3))
    assert list(found.index) == ["a", "b"]
    exact = [joint([0, 2], [True, True]), joint([1, 4], [True, True])]
    np.testing.assert_allclose(found, exact, atol=1e-6)
