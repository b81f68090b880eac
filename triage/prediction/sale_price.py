"""Sale price over working price, for a unit of a tier and grade."""

from __future__ import annotations

import numpy as np
import xarray as xr
from scipy.special import ndtri

from triage.prediction.levels import known_or_average

GRADES = (0, 1, 2)


def log_sale_ratio(draws: xr.Dataset, tier: str, grade: int) -> np.ndarray:
    """Return the middle of log(sold / working price), shape (draw,); it falls with the grade.

    Parameters
    ----------
    tier : a tier the record does not know gets the average.
    grade : 0 fully working, 1 one function lost, 2 more than one.
    """
    first, second = draws["first_drop"].values, draws["second_drop"].values
    drop = (np.zeros_like(first), first, first + second)[grade]
    steeper = np.exp(known_or_average(draws, "tier_drop", tier))
    return draws["level"].values + known_or_average(draws, "tier_effect", tier) - drop * steeper


def mean_sale_ratio(draws: xr.Dataset, tier: str, grade: int) -> np.ndarray:
    """Return the expected ratio, shape (draw,): the mean of a log-normal."""
    return np.exp(log_sale_ratio(draws, tier, grade) + draws["spread"].values ** 2 / 2)


def sample_sale_ratio(
    draws: xr.Dataset, tier: str, grade: int, draw: np.ndarray, uniform: np.ndarray
) -> np.ndarray:
    """Return one ratio a path, shape (path,); the same luck in every grade keeps their order."""
    return np.exp(log_sale_ratio(draws, tier, grade)[draw] + draws["spread"].values[draw] * ndtri(uniform))
