"""The one interval this program shows: 90 % of the draws, equal tails."""

from __future__ import annotations

import numpy as np

LEVEL = 0.9


def interval(draws: np.ndarray, axis: int = 0) -> tuple[np.ndarray, np.ndarray]:
    """Low and high end of the equal-tailed interval along the axis of draws."""
    low, high = np.quantile(draws, [(1 - LEVEL) / 2, (1 + LEVEL) / 2], axis=axis)
    return low, high
