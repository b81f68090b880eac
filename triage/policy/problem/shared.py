"""What all units share: how expected costs and prices move with what the shop does not know yet.

A unit's minutes, parts, comebacks and sale price vary by its own luck, which averages
away over many units, and by levels that are the same for all of them and not known
exactly, which do not. The plan uses expectations over both. Here are the levels: what
is expected given each posterior draw over what is expected on average. Draw s is the
same draw for every model and every unit.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from scipy.special import ndtr

from triage.arrays import Floats

_LEAST_SPREAD = 1e-9


def _known() -> Floats:
    return np.ones(1)


@dataclass(frozen=True)
class SharedCosts:
    """Levels of one repair's costs, each 1 on average, shape (draw,); (1,) where draws do not differ."""

    minutes_fixed: Floats = field(default_factory=_known)
    minutes_failed: Floats = field(default_factory=_known)
    parts: Floats = field(default_factory=_known)
    comebacks: Floats = field(default_factory=_known)

    @classmethod
    def of(
        cls, minutes_fixed: Floats, minutes_failed: Floats, parts: Floats, comebacks: Floats
    ) -> SharedCosts:
        """Levels of what is expected given each draw, in any unit, shape (draw,) each."""
        return cls(*map(_over_mean, (minutes_fixed, minutes_failed, parts, comebacks)))


@dataclass(frozen=True)
class SharedSale:
    """Level and spread of the sale price, which is log-normal given the draw.

    level : ndarray, shape (grade, draw), 1 on average over draws; (grade, 1) where they do not differ.
    spread : ndarray, shape (draw,), standard deviation of the log of a single price.
    """

    level: Floats = field(default_factory=lambda: np.ones((3, 1)))
    spread: Floats = field(default_factory=lambda: np.zeros(1))

    @classmethod
    def of(cls, expected: Floats, spread: Floats) -> SharedSale:
        """From what is expected at each grade given each draw, shape (grade, draw)."""
        return cls(np.stack([_over_mean(row) for row in expected]), spread)

    def beyond(self, mean: Floats, paid: float) -> Floats:
        """Expected part of the price over what was paid, given each draw, shape (grade, draw).

        Parameters
        ----------
        mean : ndarray, shape (grade,), expected price, money.
        """
        return beyond(mean[:, None] * self.level, self.spread, paid)


def beyond(mean: Floats, spread: Floats | float, paid: Floats | float) -> Floats:
    """Expected part of a log-normal price over what was paid, money; arrays are broadcast.

    With m its mean, s the spread of its log and d = log(m / paid) / s + s / 2,
    E[(price - paid)+] = m Phi(d) - paid Phi(d - s): the partial mean of a log-normal.
    """
    spread = np.maximum(spread, _LEAST_SPREAD)
    with np.errstate(divide="ignore", invalid="ignore"):  # a price of nothing, or nothing paid
        d = (np.log(mean) - np.log(paid)) / spread + spread / 2.0
        over = mean * ndtr(d) - paid * ndtr(d - spread)
    return np.where(np.asarray(paid) > 0, over, mean - paid)


def _over_mean(expected: Floats) -> Floats:
    mean = float(expected.mean())
    return expected / mean if mean > 0 else np.ones_like(expected)
