"""The risk of several devices taken together.

What the shop does not know yet is shared: one posterior draw of every model,
chances, minutes, parts, comebacks and sale prices alike, is true for all devices
at once, so their losses hang together and variances may not be summed:

    Var(margin) = Var_s(sum of E[M | s]) + sum of E_s Var(M | s)

What is left given a draw s is each device's own luck, independent between devices;
a sum of such luck is taken as normal, and as wide in each draw. The margin of
the whole is therefore a mixture: one normal a draw, each as likely.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from triage.policy.solver.spread import TAIL, expected_shortfall

_HALF_A_CENT = 0.005
_HALVINGS = 60


@dataclass(frozen=True)
class LotRisk:
    """How the margin of several devices together may fall out.

    expected : expected margin, money.
    luck, not_known : standard deviations, money: of the devices' own luck, and of
        what the shop does not know about all of them at once.
    loss_chance : chance that the whole loses money.
    shortfall : mean margin of the worst 1 in 10, money.
    dots : 20 equally likely margins, lowest first, money.
    """

    expected: float
    luck: float
    not_known: float
    loss_chance: float
    shortfall: float
    dots: tuple[float, ...]

    @property
    def losses_in_20(self) -> int:
        """How many of the 20 dots lie below zero."""
        return sum(dot < -_HALF_A_CENT for dot in self.dots)

    @property
    def share_not_known(self) -> float:
        """Share of the variance that more past jobs would take away, 0 to 1."""
        total = self.luck**2 + self.not_known**2
        return self.not_known**2 / total if total > 0 else 0.0


def lot_risk(means: np.ndarray, luck_variance: float, dots: int = 20) -> LotRisk:
    """Risk of a mixture of normals.

    Parameters
    ----------
    means : ndarray, shape (draw,), expected margin of the whole given each draw.
    luck_variance : variance of all its luck, given the draw, money squared.
    """
    deviation = float(np.sqrt(luck_variance))
    expected = float(means.mean())
    spots = mixture_quantiles(means, deviation, (np.arange(dots) + 0.5) / dots)
    if deviation > 0:
        loss = float(ndtr((-_HALF_A_CENT - means) / deviation).mean())
    else:
        loss = float((means < -_HALF_A_CENT).mean())
    return LotRisk(
        expected, deviation, float(means.std()), loss, tail_mean(means, deviation), tuple(map(float, spots))
    )


def mixture_quantiles(means: np.ndarray, deviation: float, at: np.ndarray) -> np.ndarray:
    """Quantiles of equally likely normals N(means, deviation), by bisection; shape of `at`."""
    if deviation <= 0:
        return np.quantile(means, at)
    at = np.asarray(at, dtype=float)
    low = np.full(at.shape, means.min() - 9.0 * deviation)
    high = np.full(at.shape, means.max() + 9.0 * deviation)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        below = ndtr((middle[..., None] - means) / deviation).mean(axis=-1) < at
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return (low + high) / 2.0


def tail_weights(means: np.ndarray, deviation: float, share: float = TAIL) -> tuple[np.ndarray, float]:
    """Where the worst `share` of the mixture lies.

    Returns
    -------
    weights : ndarray, shape (draw,), summing to 1: how much of the tail each draw holds.
    density : the mean of the tail is `weights @ means - density * deviation`.
    """
    count = len(means)
    if deviation <= 0:
        # The atom at the edge is split, as in `expected_shortfall`.
        weights = np.zeros(count)
        left = share * count
        for place in np.argsort(means, kind="stable"):
            weights[place] = min(1.0, left)
            left -= weights[place]
            if left <= 0:
                break
        return weights / weights.sum(), 0.0
    edge = (float(mixture_quantiles(means, deviation, np.array(share))) - means) / deviation
    weights = ndtr(edge)
    density = np.exp(-0.5 * edge**2).sum() / np.sqrt(2 * np.pi)
    return weights / weights.sum(), float(density / weights.sum())


def tail_mean(means: np.ndarray, deviation: float, share: float = TAIL) -> float:
    """Mean of the worst `share` of the mixture, money."""
    if deviation <= 0:
        return expected_shortfall(means, share)
    weights, density = tail_weights(means, deviation, share)
    return float(weights @ means - density * deviation)
