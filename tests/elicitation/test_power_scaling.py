"""Power-scaling sensitivity against a closed form and against a library."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from triage.elicitation.power_scaling import (
    THRESHOLD,
    THRESHOLD_SHIFT,
    cumulative_distance,
    power_scaling_sensitivity,
    smoothed_weights,
)


def conjugate(prior, data, prior_power=1.0, data_power=1.0):
    """Posterior of a normal mean of known variance, each part raised to a power; exact algebra."""
    precision = prior_power / prior[1] ** 2 + data_power / data[1] ** 2
    mean = (prior_power * prior[0] / prior[1] ** 2 + data_power * data[0] / data[1] ** 2) / precision
    return norm(mean, precision**-0.5)


@pytest.mark.parametrize("data", [(0.3, 0.2), (3.0, 0.5)])
@pytest.mark.parametrize("component", ["prior", "data"])
def test_a_conjugate_normal_is_met(data, component):
    prior, size = (0.0, 1.0), 20_000
    base = conjugate(prior, data)
    # The posterior's own quantiles stand for draws, so that no luck is left. The distance is
    # relative to the area under both functions, so both are taken over the same range.
    draws = base.ppf((np.arange(size) + 0.5) / size)
    part = norm(*prior) if component == "prior" else norm(data[0], data[1])
    found = power_scaling_sensitivity(draws, part.logpdf(draws))
    low, high = draws[0], draws[-1]
    distances = []
    for power in (1 / 1.01, 1.01):
        scaled = conjugate(prior, data, **{f"{component}_power": power})
        distances.append(max(_distance(base, scaled, low, high, flip) for flip in (False, True)))
    exact = sum(distances) / (2 * np.log2(1.01))
    assert found.value == pytest.approx(exact, rel=0.02)
    ends = [conjugate(prior, data, **{f"{component}_power": power}).mean() for power in (1 / 1.001, 1.001)]
    assert found.shift == pytest.approx((ends[1] - ends[0]) / (2 * np.log2(1.001)), rel=1e-3)
    assert found.shift_sd == pytest.approx(found.shift / base.std(), rel=1e-3)
    assert found.pareto_k < 0.7
    # The belief of the far record is at odds with it, and says so; the near one is drowned.
    assert found.sensitive == (component == "data" or data[0] == 3.0)


def _distance(one, other, low, high, flip):
    p, q = (one.sf, other.sf) if flip else (one.cdf, other.cdf)

    def apart(x):
        a, b = p(x), q(x)
        return a * np.log2(2 * a / (a + b)) + b * np.log2(2 * b / (a + b))

    top = quad(apart, low, high, epsabs=1e-14, limit=200)[0]
    return np.sqrt(top / quad(lambda x: p(x) + q(x), low, high, limit=200)[0])


@pytest.mark.slow
def test_weights_and_distance_are_those_of_a_library():
    az = pytest.importorskip("arviz")
    if not hasattr(az, "psislw"):
        pytest.skip("this generation of the library has no psislw")
    from arviz.stats.stats import _cjs_dist

    rng = np.random.default_rng(4)
    ratios, values = rng.standard_t(4, 1000), rng.standard_normal(1000)
    logs, shape = smoothed_weights(ratios)
    theirs, their_shape = az.psislw(ratios.copy())
    np.testing.assert_allclose(logs, theirs, atol=1e-10)
    assert shape == pytest.approx(float(their_shape), abs=1e-10)
    weights = np.exp(logs)
    assert cumulative_distance(values, weights) == pytest.approx(_cjs_dist(values, weights), abs=1e-12)


def test_the_threshold_shift_is_the_one_that_makes_the_threshold_by_itself():
    draws = norm.ppf((np.arange(2000) + 0.5) / 2000)
    # A component linear in the number shifts a normal's mean and leaves its sd.
    found = power_scaling_sensitivity(draws, draws * THRESHOLD_SHIFT / np.log(2))
    assert found.shift_sd == pytest.approx(THRESHOLD_SHIFT, rel=1e-2)
    assert THRESHOLD < found.value < 1.2 * THRESHOLD


def test_a_component_that_says_nothing_moves_nothing():
    found = power_scaling_sensitivity(np.linspace(0, 1, 50), np.zeros(50))
    assert found.value < 1e-6 and not found.sensitive
