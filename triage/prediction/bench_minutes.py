"""Bench minutes of an attempt on a unit: the mean in closed form, and draws.

The minutes are a mixture of two log-normals, stopped at the give-up time G: what
would last longer is worked on for just G. For one part with location m and
spread s, with Phi the normal distribution function,

    E[min(minutes, G)] = exp(m + s^2 / 2) Phi((log G - m - s^2) / s) + G Phi((m - log G) / s)

and the mean is the mixture of the two parts' means.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import xarray as xr
from scipy.special import log_ndtr, ndtr, ndtri

from triage.domain.catalogue import Catalogue
from triage.prediction.levels import known_or_average, required
from triage.priors.bench_minutes import BenchMinutesPriors


@dataclass(frozen=True)
class AttemptMinutes:
    """The distribution of one attempt's minutes; every array has shape (draw,).

    location, spread : of the ordinary part, log minutes.
    tail_location, tail_spread, tail_share : of the part that gets stuck.
    give_up : minutes at which work stops.
    """

    location: np.ndarray
    spread: np.ndarray
    tail_location: np.ndarray
    tail_spread: np.ndarray
    tail_share: np.ndarray
    give_up: float

    def mean(self) -> np.ndarray:
        """Expected minutes, shape (draw,)."""
        mean = np.zeros_like(self.location)
        for share, location, spread in self._parts():
            over = (np.log(self.give_up) - location) / spread
            ended = np.exp(location + spread**2 / 2) * ndtr(over - spread)
            mean += share * (ended + self.give_up * ndtr(-over))
        return mean

    def log_likelihood(self, minutes: float) -> np.ndarray:
        """Log density of log minutes, or from the give-up time on the log chance of it, shape (draw,)."""
        stopped = minutes >= self.give_up
        at = []
        for share, location, spread in self._parts():
            z = (np.log(min(minutes, self.give_up)) - location) / spread
            density = -0.5 * z**2 - np.log(spread) - 0.5 * np.log(2 * np.pi)
            at.append(np.log(share) + (log_ndtr(-z) if stopped else density))
        return np.logaddexp(*at)

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
        late = stuck < self.tail_share[draw]
        location = np.where(late, self.tail_location[draw], self.location[draw])
        scale = np.where(late, self.tail_spread[draw], self.spread[draw])
        return np.minimum(np.exp(location + scale * ndtri(within)), self.give_up)

    def _parts(self) -> tuple[tuple[np.ndarray, np.ndarray, np.ndarray], ...]:
        return (
            (1 - self.tail_share, self.location, self.spread),
            (self.tail_share, self.tail_location, self.tail_spread),
        )


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
