"""Parts cost over the price book's figure, for one attempt.

With the chance `a` of parts bought again, and location m and spread s of one
purchase's log ratio, the mean is (1 + a) exp(m + s^2 / 2).
"""

from __future__ import annotations

import numpy as np
import xarray as xr
from scipy.special import ndtri

from triage.arrays import Floats, Ints
from triage.outcome_models.parts_cost import TWICE
from triage.prediction.levels import required, stored, variable

# Uniform numbers are kept this far from 0 and 1, where the quantile is infinite.
EDGE = 1e-12


def mean_parts_ratio(draws: xr.Dataset, family: str) -> Floats:
    """Return the expected ratio, shape (draw,), parts bought again included."""
    location, spread, again = _told(draws, family)
    return (1 + again) * np.exp(location + spread**2 / 2)


def sample_parts_ratio(draws: xr.Dataset, family: str, draw: Ints, uniform: Floats) -> Floats:
    """Return one ratio a path, shape (path,), at uniform numbers on (0, 1); bought again at the largest."""
    location, spread, again = (found[draw] for found in _told(draws, family))
    once = 1 - again
    twice = uniform > once
    place = np.where(twice, (uniform - once) / np.maximum(again, EDGE), uniform / once)
    log_ratio = location + spread * ndtri(np.clip(place, EDGE, 1 - EDGE))
    return np.exp(log_ratio + TWICE * twice)


def parts_log_likelihood(draws: xr.Dataset, family: str, log_ratios: Floats) -> Floats:
    """Log likelihood of a family's log ratios, shape (draw,), up to a constant."""
    location, spread, again = (found[:, None] for found in _told(draws, family))
    with np.errstate(divide="ignore"):  # a share of none
        log_share = np.log(again)
    once, twice = (
        -0.5 * ((log_ratios - location - step) / spread) ** 2 - np.log(spread) for step in (0.0, TWICE)
    )
    total: Floats = np.logaddexp(np.log1p(-again) + once, log_share + twice).sum(axis=1)
    return total


def _told(draws: xr.Dataset, family: str) -> tuple[Floats, Floats, Floats]:
    """Location and spread of one purchase, chance of buying again, shape (draw,) each.

    Draws of an older form of the model have one spread for all families, and no buying again.
    """
    spread = variable(draws, "spread")
    again = stored(draws, "bought_again") if "bought_again" in draws else np.zeros(draws.sizes["draw"])
    own = required(draws, "spread", family) if "family" in spread.dims else spread.values
    return required(draws, "log_ratio", family), own, again
