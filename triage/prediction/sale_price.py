"""Sale price over working price, for a unit of a tier and grade."""

from __future__ import annotations

import numpy as np
import xarray as xr
from scipy.special import ndtri

from triage.arrays import Floats, Ints
from triage.prediction.levels import known_or_average, stored

GRADES = (0, 1, 2)


def log_sale_ratio(draws: xr.Dataset, tier: str, grade: int) -> Floats:
    """Return the middle of log(sold / working price), shape (draw,); it falls with the grade.

    Parameters
    ----------
    tier : a tier the record does not know gets the average.
    grade : 0 fully working, 1 one function lost, 2 more than one.
    """
    first, second = stored(draws, "first_drop"), stored(draws, "second_drop")
    drop = (np.zeros_like(first), first, first + second)[grade]
    steeper = np.exp(known_or_average(draws, "tier_drop", tier))
    return stored(draws, "level") + known_or_average(draws, "tier_effect", tier) - drop * steeper


def mean_sale_ratio(draws: xr.Dataset, tier: str, grade: int) -> Floats:
    """Return the expected ratio, shape (draw,): the mean of a log-normal."""
    return np.exp(log_sale_ratio(draws, tier, grade) + stored(draws, "spread") ** 2 / 2)


def sample_sale_ratio(draws: xr.Dataset, tier: str, grade: int, draw: Ints, uniform: Floats) -> Floats:
    """Return one ratio a path, shape (path,); the same luck in every grade keeps their order."""
    return np.exp(log_sale_ratio(draws, tier, grade)[draw] + stored(draws, "spread")[draw] * ndtri(uniform))
