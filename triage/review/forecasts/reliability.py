"""Reliability diagram: of the forecasts near each chance, how many events occurred.

References
----------
Wilson 1927, Probable inference, the law of succession, and statistical
inference, JASA 22:209 (the interval of a share).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from triage.posterior.interval import LEVEL

EDGES = tuple(float(edge) for edge in np.linspace(0, 1, 11).round(1))


@dataclass(frozen=True)
class Share:
    """A count out of a number, and the Wilson interval of the chance behind it."""

    held: int
    of: int
    low: float
    high: float

    @property
    def value(self) -> float:
        """The share itself."""
        return self.held / self.of


@dataclass(frozen=True)
class ReliabilityBin:
    """Forecasts from `low` to below `high` (the last bin holds 1 as well).

    forecast : their mean.
    happened : how many came true, of how many.
    """

    low: float
    high: float
    forecast: float
    happened: Share


def wilson(held: int, of: int, level: float = LEVEL) -> Share:
    """Share with its Wilson interval; `of` is at least 1."""
    from scipy.stats import binomtest  # slow to load, and few pages ask for it

    interval = binomtest(int(held), int(of)).proportion_ci(level, method="wilson")
    return Share(int(held), int(of), float(interval.low), float(interval.high))


def bin_of(chance: np.ndarray, edges: tuple[float, ...] = EDGES) -> np.ndarray:
    """Bin of each forecast, shape (forecast,)."""
    place = np.searchsorted(edges, chance, side="right") - 1
    return np.minimum(place, len(edges) - 2)


def reliability(
    chance: np.ndarray, happened: np.ndarray, edges: tuple[float, ...] = EDGES
) -> tuple[ReliabilityBin, ...]:
    """Bins that hold a forecast, from the lowest."""
    chance, happened = np.asarray(chance, float), np.asarray(happened, bool)
    place = bin_of(chance, edges)
    return tuple(
        ReliabilityBin(
            low=edges[index],
            high=edges[index + 1],
            forecast=float(chance[place == index].mean()),
            happened=wilson(int(happened[place == index].sum()), int((place == index).sum())),
        )
        for index in np.unique(place)
    )


def coverage(low: np.ndarray, high: np.ndarray, actual: np.ndarray) -> Share:
    """How many of the stated intervals contain the outcome; ends count as inside."""
    low, high, actual = (np.asarray(values, float) for values in (low, high, actual))
    return wilson(int(((low <= actual) & (actual <= high)).sum()), len(actual))
