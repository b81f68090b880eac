"""Spiegelhalter's z: published values, and its use on forecasts made one after the other."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from tests.prediction.test_success import CATALOGUE, DRAWS
from triage.prediction.attempt_chances import attempt_chances
from triage.prediction.job_forecasts import replicated_forecasts
from triage.review.forecasts.calibration import calibration_test, z_terms
from triage.review.forecasts.scores import brier_score


@pytest.mark.parametrize(("chance", "brier", "z"), [((0.2, 0.2), 0.34, 1.06), ((0.4, 0.5), 0.305, 1.22)])
def test_published_values(chance, brier, z):
    # Rufibach 2010, J. Clin. Epidemiol. 63:938, Table 1 (read): outcomes 1 and 0.
    assert brier_score(chance, [True, False]) == pytest.approx(brier, abs=1e-12)
    assert calibration_test(chance, [True, False]).z == pytest.approx(z, abs=0.005)


def pairs(jobs: int) -> pd.DataFrame:
    """Jobs of three attempts each; outcomes do not matter to what is replicated from a fit."""
    kinds = [1, 3, 5]
    labels = {"severity": 2, "tier": "", "technician": "", "cause": "", "fixed": True, "after": -1}
    names = {"job": np.repeat(np.arange(jobs), 3).astype(str), "kind": [f"kind-{k}" for k in kinds] * jobs}
    return pd.DataFrame({**names, "method": [f"fix-{k}" for k in kinds] * jobs}).assign(**labels)


def z_of(chance, fixed):
    top, variance = z_terms(chance, fixed)
    return top / np.sqrt(variance)


def test_forecasts_given_earlier_outcomes_keep_z_standard_where_unconditional_ones_do_not():
    # Seillier-Moiseiwitsch and Dawid 1993, JASA 88:355 (from memory): z is standard normal for
    # forecasts given what came before, whatever the dependence. One draw: the job effect alone binds.
    one = DRAWS.isel(draw=[5]).assign(job_sd=("draw", [2.0]))
    one = one.assign(kind_logit=one["kind_logit"] * 0 + 1.5)
    table, replicates = pairs(60), 1000
    chance, fixed = replicated_forecasts(one, table, CATALOGUE, replicates, seed=4)
    z = z_of(chance, fixed)
    assert abs(z.mean()) < 4 / np.sqrt(replicates)
    assert abs(z.std() - 1) < 4 / np.sqrt(2 * replicates)
    # Forecast as if each attempt were alone in its job: the first of a job is.
    first = attempt_chances(one, table, CATALOGUE)[0, 0]
    assert z_of(np.full_like(chance, first), fixed).std() > 1.25


def test_a_reference_from_the_fit_itself_is_wider_than_the_normal_when_the_fit_is_unsure():
    table = pairs(100)
    again = replicated_forecasts(DRAWS, table, CATALOGUE, 300, seed=5)
    assert z_of(*again).std() > 1.5
    # Outcomes of one replicate are no surprise to the fit, though a normal would call most of them one.
    found = [calibration_test(again[0][place], again[1][place], z_terms(*again)) for place in range(100)]
    assert np.mean([test.p_replicated < 0.05 for test in found]) < 0.12
    assert np.mean([test.p_normal < 0.05 for test in found]) > 0.15


def test_a_second_try_is_not_replicated_where_the_first_works():
    table = pairs(1).assign(kind="kind-0", method=["fix-0", "other-way", "fix-0"], after=[-1, 0, -1])
    chance, fixed = replicated_forecasts(DRAWS, table, CATALOGUE, 50, seed=1)
    np.testing.assert_array_equal(np.isnan(chance[:, 1]), fixed[:, 0] == 1)
    assert not np.isnan(chance[:, [0, 2]]).any()
    assert 0 < np.isnan(fixed[:, 1]).sum() < 50
