"""Belief against record: the likelihood of one kind's attempts, and what the two pull at."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from tests.elicitation.own_kinds import CATALOGUE
from triage.design_matrix import attempt_design
from triage.domain.history import History
from triage.elicitation.attempt_likelihood import kind_log_likelihood
from triage.elicitation.conflict import Decides, kind_conflicts, own_belief_log_density
from triage.outcome_models.integrated_likelihood import pattern_log_likelihood
from triage.prediction.success import logits_at
from triage.priors.kind_beliefs import kind_beliefs
from triage.priors.success import KindBelief, SuccessPriors, SuccessScales


def history(rows):
    frame = pd.DataFrame(rows, columns=["job", "finding", "outcome"])
    frame["date"] = pd.Timestamp("2026-01-05")
    return History(frame, frame["date"].max().date())


def draws_of(kind_logit, job_sd, **more):
    count = len(kind_logit)
    coords = {"kind": list(CATALOGUE.kinds), "family": ["front", "back"], "severity": ["1", "2", "3"]}
    held = {
        "shop": (("draw",), np.zeros(count)),
        "kind_spread": (("draw",), np.ones(count)),
        "kind_logit": (("draw", "kind"), kind_logit),
        "severity_effect": (("draw", "kind", "severity"), np.zeros((count, len(CATALOGUE.kinds), 3))),
        "job_sd": (("draw",), np.full(count, job_sd)),
    }
    return xr.Dataset(held | more, coords)


def test_a_kinds_likelihood_is_what_its_attempts_add_to_their_jobs():
    rows = [
        ("a", "glass", "fixed"),
        ("a", "cell", "not-fixed"),
        ("b", "glass", "fixed"),
        ("c", "cell", "fixed"),
    ]
    rng = np.random.default_rng(1)
    draws = draws_of(rng.normal(size=(3, 3)), 0.9)
    found = kind_log_likelihood(draws, attempt_design(history(rows), CATALOGUE))

    def total(kept):
        patterns = attempt_design(history(kept), CATALOGUE).patterns
        logits = logits_at(draws, patterns.cells)
        return pattern_log_likelihood(logits, np.full(3, 0.9), patterns, 45) @ patterns.count

    for place, kind in enumerate(CATALOGUE.kinds):
        without = [row for row in rows if row[1] != kind]
        np.testing.assert_allclose(found[:, place], total(rows) - total(without), atol=1e-6)


def test_a_record_far_from_a_firm_belief_disagrees_and_no_record_leaves_the_belief():
    """One kind's posterior by brute force: without job effect and with fixed spreads it is one number."""
    beliefs = (KindBelief("glass", 0.8, 20), KindBelief("cell", 0.8, 20), KindBelief("port", 0.8, 20))
    priors = SuccessPriors(kind=beliefs, scales=SuccessScales(shop=1e-6, family=1e-6, job=1e-6))
    rows = [(f"g{n}", "glass", "fixed" if n < 8 else "not-fixed") for n in range(30)]
    design = attempt_design(history(rows), CATALOGUE)
    believed = kind_beliefs(CATALOGUE, priors)
    centre, sd = believed.mean, believed.sd
    grid = np.linspace(-6, 6, 4001)
    log_density = (
        -(((grid - centre[0]) / sd[0]) ** 2) / 2 - 8 * np.log1p(np.exp(-grid)) - 22 * np.log1p(np.exp(grid))
    )
    cumulative = np.cumsum(np.exp(log_density - log_density.max()))
    at = (np.arange(1000) + 0.5) / 1000
    rng = np.random.default_rng(2)
    glass = np.interp(at, cumulative / cumulative[-1], grid)
    others = centre[1:] + sd[1:] * rng.standard_normal((1000, 2))
    draws = draws_of(np.column_stack([glass, others]), 1e-6)
    density = own_belief_log_density(draws, CATALOGUE, priors)
    np.testing.assert_allclose(
        np.ptp(density[:, 0]), np.ptp(((glass - centre[0]) / sd[0]) ** 2) / 2, rtol=1e-6
    )
    found = {item.kind: item for item in kind_conflicts(draws, design, CATALOGUE, priors)}
    assert found["glass"].decides is Decides.DISAGREE and found["glass"].flagged
    assert found["glass"].belief.shift > 0 > found["glass"].record.shift
    assert found["cell"].decides is Decides.BELIEF and found["cell"].record.value == pytest.approx(
        0, abs=1e-6
    )
