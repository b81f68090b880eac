"""Parts cost over the price book's figure, for one attempt."""

from __future__ import annotations

import numpy as np
import xarray as xr
from scipy.special import ndtri

from triage.prediction.levels import required


def mean_parts_ratio(draws: xr.Dataset, family: str) -> np.ndarray:
    """Return the expected ratio, shape (draw,): the mean of a log-normal."""
    return np.exp(required(draws, "log_ratio", family) + draws["spread"].values ** 2 / 2)


def sample_parts_ratio(draws: xr.Dataset, family: str, draw: np.ndarray, uniform: np.ndarray) -> np.ndarray:
    """Return one ratio a path, shape (path,), at uniform numbers on (0, 1)."""
    log_ratio = required(draws, "log_ratio", family)
    return np.exp(log_ratio[draw] + draws["spread"].values[draw] * ndtri(uniform))
