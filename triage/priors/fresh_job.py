"""Between the chance for a fresh job and the logit inside one.

Every chance, in a prior file and in the models, is that of a **fresh job**:
averaged over the job effect `u ~ N(0, sd)`, which is not known beforehand.
With `eta` the logit of that chance, the chance in one job is
`expit(m(eta, sd) + u)`, where `m` solves `E expit(m + u) = expit(eta)`. So a
job of one attempt has the chance `expit(eta)` whatever the sd; the job effect
only makes the attempts of one job hang together.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from scipy.special import expit

# A trapezium rule over a normal density of sd `sd` on the logit errs by about
# exp(-2 pi^2 / (step sd)): 6e-13 with `step sd` at .7.
FINEST = 0.7
FURTHEST = 8.0
_MOST_STEPS = 100


@lru_cache(maxsize=256)
def _trapezium(steps: int) -> tuple[np.ndarray, np.ndarray]:
    z = np.linspace(-FURTHEST, FURTHEST, 2 * steps + 1)
    weight = np.exp(-(z**2) / 2)
    return z, weight / weight.sum()


def trapezium(sd: float) -> tuple[np.ndarray, np.ndarray]:
    """Nodes of a standard normal and their weights, shape (node,), fine enough for effects up to `sd`."""
    return _trapezium(int(np.ceil(FURTHEST / FINEST * max(float(sd), 1.0))))


def fresh_chance(logits: np.ndarray | float, sd: np.ndarray | float) -> np.ndarray:
    """Average chance over `N(0, sd)` added to each logit; shapes broadcast."""
    logits, sd = np.broadcast_arrays(np.asarray(logits, float), np.asarray(sd, float))
    total = np.zeros(logits.shape)
    for z, weight in zip(*trapezium(np.max(sd, initial=0.0)), strict=True):
        total += weight * expit(logits + sd * z)
    return total


def inside_logit(
    fresh: np.ndarray | float,
    sd: np.ndarray | float,
    rule: tuple[np.ndarray, np.ndarray] | None = None,
) -> np.ndarray:
    """Logit in a job of average effect, from the logit of the fresh chance: `m(eta, sd)`.

    Newton's method on the logit of the average chance, which is nearly
    straight in `m`; from the losing side, where no digits cancel.

    Parameters
    ----------
    fresh, sd : shapes broadcast.
    rule : symmetric nodes of a standard normal and their weights, each of shape (node,), over
        which the average is to be exact; `trapezium` when None.
    """
    fresh, sd = np.broadcast_arrays(np.asarray(fresh, float), np.asarray(sd, float))
    nodes, weights = rule or trapezium(np.max(sd, initial=0.0))
    wanted, most, before = np.abs(fresh), 2.0 + sd, np.zeros(fresh.shape)
    inside = wanted * np.sqrt(1 + 0.346 * sd**2)
    for _ in range(_MOST_STEPS):
        odds = np.exp(inside)
        lost, slope = np.zeros(odds.shape), np.zeros(odds.shape)
        for z, weight in zip(nodes, weights, strict=True):
            losing = 1 / (1 + odds * np.exp(sd * z))
            lost += weight * losing
            slope += weight * losing * (1 - losing)
        step = (np.log((1 - lost) / lost) - wanted) * lost * (1 - lost) / slope
        # Few nodes far apart leave steps in the average: turning back halves the stride.
        most = np.where(step * before < 0, most / 2, most)
        before = np.clip(step, -most, most)
        inside = inside - before
        if np.max(np.abs(step), initial=0.0) < 1e-11:
            break
    return np.sign(fresh) * inside
