"""Compiled parts of the likelihood that know the fresh chance: `fresh_job.inside_logit`, with derivatives.

Imported only while a model is being built.
"""

from __future__ import annotations

import numba
import numpy as np

from triage.priors.fresh_job import FINEST, FURTHEST

_MOST_STEPS = 100
# Beyond, nodes lie wider apart: a first step of the sampler may try a sigma of millions, and nodes by its
# size took gigabytes and minutes. No prior allows such a sigma, so its chance need not be exact.
_MOST_SIGMA = 50.0


@numba.njit(fastmath={"reassoc", "contract"}, error_model="numpy")
def inside_logits(fresh, sigma):
    """`m` of each logit of a fresh chance, and its derivatives by that logit and by sigma, shape (cell,).

    `dm/deta = p (1 - p) / E f'` and `dm/dsigma = -E z f' / E f'`, with `p` the
    fresh chance and `f'` the slope of the logistic at `m + sigma z`.
    """
    steps = int(np.ceil(FURTHEST / FINEST * min(max(sigma, 1.0), _MOST_SIGMA)))
    z = np.linspace(-FURTHEST, FURTHEST, 2 * steps + 1)
    weight = np.exp(-(z**2) / 2)
    weight /= weight.sum()
    reach = np.exp(sigma * z)
    inside, by_fresh, by_sigma = np.empty(fresh.size), np.empty(fresh.size), np.empty(fresh.size)
    stretch = np.sqrt(1 + 0.346 * sigma**2)
    for cell in range(fresh.size):
        # Solved from the losing side, where no digits cancel: `m` is an odd function.
        wanted = abs(fresh[cell])
        here = wanted * stretch
        lost, slope, tilt = 0.5, 0.25, 0.0
        for _ in range(_MOST_STEPS):
            lost, slope, tilt = _averages(np.exp(here), reach, weight, z)
            step = (np.log((1 - lost) / lost) - wanted) * lost * (1 - lost) / slope
            if abs(step) < 1e-7:  # quadratic: the next one would be below rounding
                here -= step
                break
            here -= min(max(step, -2.0 - sigma), 2.0 + sigma)
        side = 1.0 if fresh[cell] >= 0 else -1.0
        inside[cell] = side * here
        by_fresh[cell] = lost * (1 - lost) / slope
        by_sigma[cell] = -side * tilt / slope
    return inside, by_fresh, by_sigma


@numba.njit(fastmath={"reassoc", "contract"}, error_model="numpy")
def _averages(odds, reach, weight, z):
    """Average chance to fail, slope of the logistic and slope times z, over the nodes."""
    lost, slope, tilt = 0.0, 0.0, 0.0
    for node in range(z.size):
        losing = 1.0 / (1.0 + odds * reach[node])
        lost += weight[node] * losing
        steep = weight[node] * losing * (1.0 - losing)
        slope += steep
        tilt += steep * z[node]
    return lost, slope, tilt


@numba.njit(error_model="numpy")
def single_attempts(logits, won, lost):
    """Log likelihood of the jobs of one attempt, counted by cell, and its gradient, shape (cell,)."""
    value, by_logit = 0.0, np.empty(logits.size)
    for cell in range(logits.size):
        failing = 1.0 / (1.0 + np.exp(logits[cell]))
        # log of the chance to fail; that of success is a logit more
        log_failing = -(max(logits[cell], 0.0) + np.log1p(np.exp(-abs(logits[cell]))))
        tried = won[cell] + lost[cell]
        value += tried * log_failing + won[cell] * logits[cell]
        by_logit[cell] = won[cell] - tried * (1.0 - failing)
    return value, by_logit
