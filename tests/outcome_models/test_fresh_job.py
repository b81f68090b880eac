"""Chances of a fresh job and conditional logits within a job."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import expit
from scipy.stats import beta, norm

from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import DamageKind
from triage.outcome_models.fresh_job import belief_sd, fresh_chance, inside_logit, kind_offsets
from triage.priors.success import Belief, KindBelief, SuccessPriors, SuccessScales


@pytest.mark.parametrize(("sd", "chance"), [(0.7, 0.83), (1.5, 0.78)])
def test_a_conditional_chance_of_17_in_20_is_lower_averaged_over_jobs(sd, chance):
    assert fresh_chance(np.log(0.85 / 0.15), sd) == pytest.approx(chance, abs=0.005)


@pytest.mark.parametrize("sd", [0.0, 0.7, 2.0, 5.0])
@pytest.mark.parametrize("logit", [-3.0, 0.4, 4.0])
def test_fresh_chance_equals_an_adaptive_integral(logit, sd):
    exact, _ = quad(lambda z: expit(logit + sd * z) * norm.pdf(z), -12, 12, epsabs=1e-13, limit=400)
    assert fresh_chance(logit, sd) == pytest.approx(exact, abs=1e-10)


def test_conditional_logit_is_the_inverse():
    chance, sd = np.array([0.02, 0.5, 0.85, 0.99]), np.array([0.0, 0.7, 1.5, 4.0])
    np.testing.assert_allclose(fresh_chance(inside_logit(chance, sd), sd), chance, atol=1e-12)


def test_belief_sd_is_that_of_the_logit_of_a_beta():
    # Beta(15, 5): 20 jobs at .75; its logit's sd by quadrature.
    density = beta(15, 5)
    mean, _ = quad(lambda p: np.log(p / (1 - p)) * density.pdf(p), 0, 1)
    square, _ = quad(lambda p: (np.log(p / (1 - p)) - mean) ** 2 * density.pdf(p), 0, 1)
    assert belief_sd(Belief(0.75, 20)) == pytest.approx(np.sqrt(square), abs=1e-8)


def test_more_jobs_narrow_the_belief_and_few_jobs_leave_it_bounded():
    sds = [belief_sd(Belief(0.9, jobs)) for jobs in (0.1, 10, 100)]
    assert sds[0] > sds[1] > sds[2]
    assert sds[0] < 2


def test_with_offsets_every_belief_is_the_prior_mean_of_a_fresh_job():
    beliefs = {"rare": (0.05, 30.0), "even": (0.5, 10.0), "usual": (0.85, 1.0), "sure": (0.98, 4.0)}
    catalogue = Catalogue(kind=tuple(DamageKind(slug, slug, "f") for slug in beliefs))
    priors = SuccessPriors(
        kind=tuple(KindBelief(slug, *belief) for slug, belief in beliefs.items()),
        scales=SuccessScales(shop=0.4),
    )
    offsets = kind_offsets(catalogue, priors)
    for job_sd in (0.0, 0.3, 0.9, 2.0, 6.0):
        at = offsets.at(np.array([job_sd]))[0]
        total = np.sqrt(offsets.spread**2 + job_sd**2)
        found = fresh_chance(at, total)
        np.testing.assert_allclose(found, [chance for chance, _ in beliefs.values()], atol=1e-8)
