"""Chances of a fresh job and logits within a job."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import expit, logit
from scipy.stats import norm

from triage.outcome_models.integrated_likelihood import standard_nodes
from triage.priors.fresh_job import fresh_chance, inside_logit

# Twice as fine as any rule of the program, and as wide as doubles reach.
GRID = np.linspace(-12, 12, 801)
WEIGHT = norm.pdf(GRID) / norm.pdf(GRID).sum()


@pytest.mark.parametrize(("sd", "chance"), [(0.7, 0.83), (1.5, 0.78)])
def test_a_conditional_chance_of_17_in_20_is_lower_averaged_over_jobs(sd, chance):
    assert fresh_chance(logit(0.85), sd) == pytest.approx(chance, abs=0.005)


@pytest.mark.parametrize("sd", [0.0, 0.7, 2.0, 5.0])
@pytest.mark.parametrize("inside", [-3.0, 0.4, 4.0])
def test_fresh_chance_equals_an_adaptive_integral(inside, sd):
    exact, _ = quad(lambda z: expit(inside + sd * z) * norm.pdf(z), -12, 12, epsabs=1e-13, limit=400)
    assert fresh_chance(inside, sd) == pytest.approx(exact, abs=1e-10)


@pytest.mark.parametrize("sd", [0.0, 0.4, 1.0, 1.7, 3.0, 4.0])
def test_averaged_by_brute_force_the_chance_inside_is_the_fresh_one(sd):
    fresh = np.linspace(-8, 8, 65)
    average = expit(inside_logit(fresh, sd)[:, None] + sd * GRID) @ WEIGHT
    np.testing.assert_allclose(average, expit(fresh), atol=1e-10)


@pytest.mark.parametrize("sd", [0.5, 3.0, 8.0])
@pytest.mark.parametrize("nodes", [7, 15])
def test_on_few_nodes_the_average_over_those_very_nodes_is_exact(sd, nodes):
    z, log_weight = standard_nodes(nodes)
    fresh, weight = np.linspace(-8, 8, 33), np.exp(log_weight)
    average = expit(inside_logit(fresh, sd, (z, weight))[:, None] + sd * z) @ weight
    np.testing.assert_allclose(average, expit(fresh), atol=1e-12)


def test_compiled_derivatives_are_those_of_finite_differences():
    from triage.outcome_models.fresh_kernel import inside_logits

    fresh, h = np.linspace(-6, 6, 49), 1e-5
    for sd in (0.0, 0.35, 0.97, 2.03, 3.01, 3.97):
        inside, by_fresh, by_sd = inside_logits(fresh, sd)
        np.testing.assert_allclose(inside, inside_logit(fresh, sd), atol=1e-12)
        slope = (inside_logit(fresh + h, sd) - inside_logit(fresh - h, sd)) / (2 * h)
        np.testing.assert_allclose(by_fresh, slope, atol=1e-7)
        if sd:
            slope = (inside_logit(fresh, sd + h) - inside_logit(fresh, sd - h)) / (2 * h)
            np.testing.assert_allclose(by_sd, slope, atol=1e-7)
        else:  # an even function of the sd
            np.testing.assert_allclose(by_sd, 0, atol=1e-12)


def test_a_wild_first_step_of_the_sampler_costs_no_memory():
    """Nodes by the size of sigma were gigabytes: ten jobs took two minutes for a second."""
    import tracemalloc

    from triage.outcome_models.fresh_kernel import inside_logits

    tracemalloc.start()
    with np.errstate(all="ignore"):
        inside_logits(np.array([0.5]), 1e6)
    assert tracemalloc.get_traced_memory()[1] < 10_000_000
    tracemalloc.stop()
