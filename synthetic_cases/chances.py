"""Convert the chance for a fresh job to the logit that a job effect is added to."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np

_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(64)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()


@dataclass(frozen=True)
class Drift:
    """One kind whose chance changes.

    kind : its slug. start : first day of the change.
    to_chance : the fresh-job chance at severity 2 after it; the other
        severities move by the same amount on the logit.
    gradual : a straight line on the logit from `start` to `until`, or to the
        as-of date where that is None, instead of a step.
    """

    kind: str
    start: date
    to_chance: float
    gradual: bool = False
    until: date | None = None


def fresh_job_chance(logit: np.ndarray, job_effect_sd: float) -> np.ndarray:
    """Average the chance at each logit over jobs (Gauss-Hermite, 64 nodes)."""
    shifted = np.asarray(logit, float)[..., None] + job_effect_sd * _NODES  # (..., node)
    return (1 / (1 + np.exp(-shifted))) @ _WEIGHTS


def conditional_logit(chance: np.ndarray, job_effect_sd: float) -> np.ndarray:
    """Logit in a job of average effect whose average over jobs is `chance`.

    Inverts `fresh_job_chance` by Newton's method, exact to rounding.

    Parameters
    ----------
    chance : ndarray, any shape, strictly between 0 and 1.
    job_effect_sd : sd of the job effect, on the logit.
    """
    chance = np.asarray(chance, float)
    logit = np.log(chance / (1 - chance)) * np.sqrt(1 + 0.35 * job_effect_sd**2)
    for _ in range(40):
        inside = 1 / (1 + np.exp(-(logit[..., None] + job_effect_sd * _NODES)))  # (..., node)
        slope = (inside * (1 - inside)) @ _WEIGHTS
        logit = logit - (inside @ _WEIGHTS - chance) / slope
    return logit
