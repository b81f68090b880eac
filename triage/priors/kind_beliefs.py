"""What is believed of each kind, as a normal logit that is worth what the belief says.

A belief of chance `p` worth `n` jobs makes the fresh chance of its kind vary
about `p` with the sd `sqrt(p (1 - p) / (n + 1))`. Its logit is then normal with
mean `mu` and sd `s`. The whole shop and the family may be off as well; what
they share stays inside that sd, so that a stated belief is never wider than it
says: with `v` the variance of shop and family together,

    eta_k = mu_k + l_k (shop + family) + sqrt(1 - r_k) s_k z_k
    r_k = min(1/2, v / s_k^2),  l_k = s_k sqrt(r_k / v)
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from scipy.optimize import brentq
from scipy.special import expit

from triage.domain.catalogue import Catalogue
from triage.priors.fresh_job import fresh_chance, inside_logit, trapezium
from triage.priors.success import SuccessPriors

# Widest sd of a belief on the logit; a chance is then near 0 or near 1.
WIDEST = 4.0
# Largest part of a belief's variance that its kind shares with others.
MOST_SHARED = 0.5


@lru_cache(maxsize=4096)
def belief_logit(chance: float, jobs: float) -> tuple[float, float]:
    """Mean and sd of the normal logit of a chance that is believed with the worth of so many jobs.

    The chance then has the mean `chance` and the sd `sqrt(chance (1 - chance) / (jobs + 1))`:
    those of a Beta distribution with `jobs` imagined outcomes. A sd above
    `WIDEST` says nothing more of a chance and is not gone beyond.
    """
    middle = float(np.log(chance / (1 - chance)))
    wanted = np.sqrt(chance * (1 - chance) / (jobs + 1))

    def too_wide(sd: float) -> float:
        return chance_sd(float(inside_logit(middle, sd)), sd) - wanted

    sd = WIDEST if too_wide(WIDEST) <= 0 else float(brentq(too_wide, 1e-4, WIDEST, xtol=1e-10))
    return float(inside_logit(middle, sd)), sd


def belief_of_logit(mean: float, sd: float) -> tuple[float, float]:
    """Chance and jobs of the belief whose logit has this mean and sd; the inverse of `belief_logit`."""
    chance = float(fresh_chance(mean, sd))
    return chance, chance * (1 - chance) / chance_sd(mean, sd) ** 2 - 1


def chance_sd(mean: float, sd: float) -> float:
    """Sd of a chance whose logit is normal with this mean and sd."""
    z, weight = trapezium(sd)
    chances = expit(mean + sd * z)
    middle = weight @ chances
    return float(np.sqrt(weight @ (chances - middle) ** 2))


@dataclass(frozen=True)
class KindBeliefs:
    """The assumption about each kind, on the logit of the fresh chance; each of shape (kind,).

    mean, sd : as `belief_logit` gives them.
    stated : 1 where the kind has an assumption of its own, 0 where it takes the default.
    """

    mean: Any
    sd: Any
    stated: Any

    def parts(self, variance: Any, spread: Any, numbers: Any = np) -> tuple[Any, Any]:
        """How far each kind goes with shop and family, and the sd of its own deviation.

        Parameters
        ----------
        variance : of shop and family together. spread : factor on the own sd of kinds that take
            the default; scalars, or of shape (draw, 1).
        numbers : NumPy, or `pytensor.tensor` where the fields are variables of a model.
        """
        share = numbers.minimum(MOST_SHARED, variance / self.sd**2)
        own = numbers.sqrt(1 - share) * self.sd * (self.stated + (1 - self.stated) * spread)
        return self.sd * numbers.sqrt(share / variance), own


def kind_beliefs(catalogue: Catalogue, priors: SuccessPriors) -> KindBeliefs:
    """Assumptions of a catalogue's kinds, in its order."""
    beliefs = [priors.belief(kind) for kind in catalogue.kinds]
    mean, sd = np.array([belief_logit(one.chance, one.jobs) for one in beliefs]).reshape(-1, 2).T
    return KindBeliefs(mean, sd, np.array([float(kind in priors.beliefs) for kind in catalogue.kinds]))


def shared_variance(scale: float, family_sd: Any, families: int) -> Any:
    """Variance of shop and family together; a zero-sum family effect has the sd times 1 - 1/families."""
    return scale**2 + family_sd**2 * (1 - 1 / families)


def spread_centre(log_sd: float) -> float:
    """Log-scale mean of a log-normal factor whose mean square is 1: it widens nothing on the whole."""
    return -(log_sd**2)
