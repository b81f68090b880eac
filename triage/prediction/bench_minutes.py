"""Bench minutes of an attempt on a unit: the mean in closed form, and draws.

The minutes are a mixture of two log-normals cut off at the give-up time G. For
one part with location m and spread s, with Phi the normal distribution function,

    mass below G = Phi((log G - m) / s)
    E[minutes; minutes < G] = exp(m + s^2 / 2) Phi((log G - m - s^2) / s)

and the mean is the mixture of the second over the mixture of the first.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import xarray as xr
from scipy.special import ndtr, ndtri

from triage.domain.catalogue import Catalogue
from triage.prediction.levels import known_or_average, required
from triage.priors.bench_minutes import BenchMinutesPriors


@dataclass(frozen=True)
class AttemptMinutes:
    """The distribution of one attempt's minutes; every array has shape (draw,).

    location, spread : of the ordinary part, log minutes.
    tail_location, tail_spread, tail_share : of the part that gets stuck.
    give_up : minutes after which no one goes on.
    """

    location: np.ndarray
    spread: np.ndarray
    tail_location: np.ndarray
    tail_spread: np.ndarray
    tail_share: np.ndarray
    give_up: float

    def mean(self) -> np.ndarray:
        """Expected minutes, shape (draw,)."""
        parts = self._parts()
        mass = sum(share * self._below(location, spread) for share, location, spread in parts)
        total = sum(
            share * np.exp(location + spread**2 / 2) * self._below(location + spread**2, spread)
            for share, location, spread in parts
        )
        return total / mass

    def sample(self, draw: np.ndarray, stuck: np.ndarray, within: np.ndarray) -> np.ndarray:
        """Minutes at uniform numbers.

        Parameters
        ----------
        draw : ndarray of int, shape (path,), posterior draw of each path.
        stuck, within : ndarray, shape (path,), uniform on (0, 1): which part,
            and where in it.

        Returns
        -------
        ndarray, shape (path,), bench minutes.
        """
        (_, usual, spread), (share, late, tail) = self._parts()
        ordinary_mass, tail_mass = self._below(usual, spread), self._below(late, tail)
        chance = share * tail_mass / (share * tail_mass + (1 - share) * ordinary_mass)  # (draw,)
        late_path = stuck < chance[draw]
        location = np.where(late_path, late[draw], usual[draw])
        scale = np.where(late_path, tail[draw], spread[draw])
        mass = np.where(late_path, tail_mass[draw], ordinary_mass[draw])
        return np.minimum(np.exp(location + scale * ndtri(within * mass)), self.give_up)

    def _parts(self) -> tuple[tuple[np.ndarray, np.ndarray, np.ndarray], ...]:
        return (
            (1 - self.tail_share, self.location, self.spread),
            (self.tail_share, self.tail_location, self.tail_spread),
        )

    def _below(self, location: np.ndarray, spread: np.ndarray) -> np.ndarray:
        return ndtr((np.log(self.give_up) - location) / spread)


def attempt_minutes(
    draws: xr.Dataset,
    kind: str,
    severity: int,
    fixed: bool,
    catalogue: Catalogue,
    priors: BenchMinutesPriors,
    method: str = "",
) -> AttemptMinutes:
    """Return the distribution of the minutes of an attempt that ends fixed, or not.

    Parameters
    ----------
    draws : of the bench-minutes model.
    kind, severity : of the finding that leads the attempt.
    method : slug of the repair; the usual one of the kind when blank.
    """
    location = required(draws, "log_minutes", kind)
    if severity == 1:
        location = location - draws["severity_step"].values[:, 0]
    elif severity == 3:
        location = location + draws["severity_step"].values[:, 1]
    if method and method != catalogue.usual_method(kind):
        location = location + known_or_average(draws, "method_effect", method)
    if not fixed:
        location = location + required(draws, "failed_effect", catalogue.kinds[kind].family)
    return AttemptMinutes(
        location=location,
        spread=draws["spread"].values,
        tail_location=location + draws["tail_shift"].values,
        tail_spread=draws["tail_spread"].values,
        tail_share=draws["tail_share"].values,
        give_up=priors.give_up_minutes,
    )
