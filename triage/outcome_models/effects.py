"""The pieces the outcome models are built of: assumptions and zero-sum effects as PyMC variables.

An effect that could trade places with the intercept is made to sum to zero.
One with fewer than five levels gets a fixed scale: the scale of a three-level
factor is the parameter that mixes worst. PyMC costs seconds to import, so it is
imported where a model is built and nowhere above.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from triage.priors.beliefs import BoundedScale, NormalBelief, PositiveBelief

# Below this many levels a factor's scale is not estimated.
LEAST_LEVELS = 5
# Log-scale sd of an estimated spread about the one believed: a factor of about two.
SPREAD_SD = 0.6


def normal(name: str, belief: NormalBelief) -> Any:
    """Return a normal variable with an assumption's mean and sd."""
    import pymc as pm

    return pm.Normal(name, belief.mean, belief.sd)


def positive(name: str, belief: PositiveBelief, **kwargs: Any) -> Any:
    """Return a log-normal variable with an assumption's median."""
    import pymc as pm

    return pm.LogNormal(name, np.log(belief.median), belief.sd, **kwargs)


def bounded(name: str, belief: BoundedScale, **kwargs: Any) -> Any:
    """Return a normal variable held between an assumption's bounds."""
    import pymc as pm

    return pm.TruncatedNormal(name, belief.mean, belief.sd, lower=belief.low, upper=belief.high, **kwargs)


def log_normal_density(value: Any, mean: Any, sd: Any) -> Any:
    """Return the log density of a normal at values, a part of a mixture."""
    import pytensor.tensor as pt

    return -0.5 * ((value - mean) / sd) ** 2 - pt.log(sd) - 0.5 * np.log(2 * np.pi)


def estimated_spread(name: str, scale: float) -> Any:
    """Return the spread of an effect's levels: log-normal about the one believed.

    Unlike a half-normal it leaves no room at zero, where levels that hardly
    differ would pull the sampler into a funnel.
    """
    import pymc as pm

    return pm.LogNormal(name, np.log(scale), SPREAD_SD)


def zero_sum_effect(
    name: str, dim: str, levels: int, scale: float, fixed: float, informed: bool = False
) -> Any:
    """Return an effect over one dimension that sums to zero.

    Parameters
    ----------
    name, dim : of the effect; its sd, where estimated, is `<name>_sd`.
    levels : length of the dimension.
    scale : the sd believed, from five levels on.
    fixed : the sd below five levels.
    informed : whether a usual record tells each level better than the other
        levels do. The effect is then sampled as it is, else as multiples of its
        sd: either way round, the other one mixes badly.
    """
    import pymc as pm

    if levels < LEAST_LEVELS:
        return fixed_zero_sum(name, dim, levels, fixed)
    spread = estimated_spread(f"{name}_sd", scale)
    if informed:
        return pm.ZeroSumNormal(name, spread, dims=dim)
    return pm.Deterministic(name, spread * pm.ZeroSumNormal(f"{name}_unit", 1.0, dims=dim), dims=dim)


def fixed_zero_sum(name: str, dim: str, levels: int, sd: float) -> Any:
    """Return an effect of known sd over one dimension that sums to zero; below two levels, 0."""
    import pymc as pm

    return pm.ZeroSumNormal(name, sd, dims=dim) if levels > 1 else np.zeros(levels)
