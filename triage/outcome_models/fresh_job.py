"""Between the chance for a fresh job and the logit inside one.

A chance in a prior file, and in `triage chances`, is that of a **fresh job**:
averaged over the job effect, which is not known beforehand. The models add
effects on the logit of one job. The two differ: at a job-effect sd of .7 an
inside chance of .85 is .83 over jobs; at 1.5 it is .78.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import expit, polygamma

from triage.domain.catalogue import Catalogue
from triage.priors.success import Belief, SuccessPriors

# A trapezium rule over a normal density converges faster than any power; this
# one is exact to rounding for sd up to 6.
_GRID = np.linspace(-10, 10, 801)
_WEIGHT = np.exp(-(_GRID**2) / 2)
_WEIGHT /= _WEIGHT.sum()
_DEGREE = 14


def fresh_chance(logits: np.ndarray, sd: np.ndarray | float) -> np.ndarray:
    """Average chance over `N(0, sd)` added to each logit; shapes broadcast."""
    logits, sd = np.broadcast_arrays(np.asarray(logits, float), np.asarray(sd, float))
    total = np.zeros(logits.shape)
    for z, weight in zip(_GRID, _WEIGHT, strict=True):
        total += weight * expit(logits + sd * z)
    return total


def inside_logit(chance: np.ndarray, sd: np.ndarray | float) -> np.ndarray:
    """Logit whose `fresh_chance` at `sd` is `chance`; the inverse, by Newton's method."""
    chance, sd = np.broadcast_arrays(np.asarray(chance, float), np.asarray(sd, float))
    logits = np.log(chance / (1 - chance)) * np.sqrt(1 + 0.346 * sd**2)
    for _ in range(60):
        inside = expit(logits[..., None] + sd[..., None] * _GRID)  # (..., grid)
        slope = (inside * (1 - inside)) @ _WEIGHT
        step = (inside @ _WEIGHT - chance) / slope
        logits = logits - np.clip(step, -1, 1)
        if np.max(np.abs(step), initial=0.0) < 1e-13:
            break
    return logits


def belief_sd(belief: Belief) -> float:
    """Sd, on the logit, of an assumption worth so many jobs.

    That of the logit of a Beta(a, b) chance, `sqrt(trigamma(a) + trigamma(b))`,
    with `a` and `b` the jobs it is worth split by its chance. Neither is let
    below 1: less than one imagined failure would make the sd of a near-certain
    repair grow without bound.
    """
    a, b = max(belief.chance * belief.jobs, 1.0), max((1 - belief.chance) * belief.jobs, 1.0)
    return float(np.sqrt(polygamma(1, a) + polygamma(1, b)))


@dataclass(frozen=True)
class KindOffsets:
    """The constant part of each kind's logit, as a function of the job effect's sd.

    At each sd it is the logit at which the prior mean of the fresh-job chance
    is the stated one. It is smooth in the sd, so a Chebyshev series over
    `sd^2 / (4 + sd^2)` stands for it: within 1e-8 up to an sd of 8.

    belief_sd : ndarray, shape (kind,), sd of the kind's own deviation.
    spread : ndarray, shape (kind,), prior sd of everything but the job effect.
    series : ndarray, shape (degree + 1, kind).
    """

    belief_sd: np.ndarray
    spread: np.ndarray
    series: np.ndarray

    def at(self, job_sd: Any) -> Any:
        """Offset of each kind; NumPy, shape (draw, kind), or PyTensor, shape (kind,)."""
        if hasattr(job_sd, "owner"):  # a PyTensor scalar
            squared, scale = job_sd**2, (1 + 0.346 * (self.spread**2 + job_sd**2)) ** 0.5
        else:
            squared = np.asarray(job_sd, float)[:, None] ** 2  # (draw, 1)
            scale = np.sqrt(1 + 0.346 * (self.spread**2 + squared))
        x = 2 * squared / (4 + squared) - 1
        before, now = 1.0, x
        total = self.series[0] + self.series[1] * x
        for coefficients in self.series[2:]:
            before, now = now, 2 * x * now - before
            total = total + coefficients * now
        return total * scale


def kind_offsets(catalogue: Catalogue, priors: SuccessPriors) -> KindOffsets:
    """Tabulate the offsets of a catalogue's kinds."""
    beliefs = [priors.belief(kind) for kind in catalogue.kinds]
    own = np.array([belief_sd(belief) for belief in beliefs])
    scales = priors.scales
    spread = np.sqrt(own**2 + scales.shop**2 + scales.family**2)
    chance = np.array([belief.chance for belief in beliefs])
    # Chebyshev points of x in [-1, 1]; the last is kept short of an infinite sd.
    x = np.cos(np.pi * (np.arange(40) + 0.5) / 40)
    squared = 4 * (1 + x) / np.maximum(1 - x, 2 * 4 / 44)  # sd up to about 6
    total = np.sqrt(spread**2 + squared[:, None])  # (point, kind)
    ratio = inside_logit(chance, total) / np.sqrt(1 + 0.346 * total**2)
    used = 2 * squared / (4 + squared) - 1
    return KindOffsets(own, spread, np.polynomial.chebyshev.chebfit(used, ratio, _DEGREE))
