"""Bench minutes of an attempt on a unit: the mean in closed form, and draws.

The minutes are a mixture of two log-normals, and work stops at the give-up time
G: an attempt that fails is worked on for G at most, one that is fixed ended
before. For one part with location m and spread s, with Phi the normal
distribution function,

    mass below G = Phi((log G - m) / s)
    E[minutes; minutes < G] = exp(m + s^2 / 2) Phi((log G - m - s^2) / s)

With both mixed over the parts, the mean of a fixed attempt is the second over
the first, and of a failed one the second plus G times the mass beyond G.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import xarray as xr
from scipy.special import log_ndtr, ndtr, ndtri

from triage.arrays import Bools, Floats, Ints
from triage.domain.catalogue import Catalogue
from triage.prediction.levels import known_or_average, required, stored
from triage.priors.bench_minutes import BenchMinutesPriors


@dataclass(frozen=True)
class AttemptMinutes:
    """The distribution of one attempt's minutes; every array has shape (draw,).

    location, spread : of the ordinary part, log minutes.
    tail_location, tail_spread, tail_share : of the part that gets stuck.
    give_up : minutes at which work stops.
    fixed : whether it ends fixed, and so before; else it may be stopped. One for all, or (draw,).
    """

    location: Floats
    spread: Floats
    tail_location: Floats
    tail_spread: Floats
    tail_share: Floats
    give_up: float
    fixed: bool | Bools = False

    def mean(self) -> Floats:
        """Expected minutes, shape (draw,)."""
        ended, below, beyond = (np.zeros_like(self.location) for _ in range(3))
        for share, location, spread in self._parts():
            over = (np.log(self.give_up) - location) / spread
            ended += share * np.exp(location + spread**2 / 2) * ndtr(over - spread)
            below += share * ndtr(over)
            beyond += share * ndtr(-over)
        given: Floats = np.divide(ended, below, out=np.full_like(below, self.give_up), where=below > 0)
        return np.where(self.fixed, given, ended + self.give_up * beyond)

    def log_likelihood(self, minutes: float) -> Floats:
        """Log density of log minutes, or log chance of being stopped, shape (draw,)."""
        density, below, beyond = [], [], []
        for share, location, spread in self._parts():
            z, over = ((np.log(at) - location) / spread for at in (min(minutes, self.give_up), self.give_up))
            weight = np.log(share)
            density.append(weight - 0.5 * z**2 - np.log(spread) - 0.5 * np.log(2 * np.pi))
            below.append(weight + log_ndtr(over))
            beyond.append(weight + log_ndtr(-over))
        failed = np.logaddexp(*(beyond if minutes >= self.give_up else density))
        given = np.logaddexp(*density) - np.logaddexp(*below)
        told: Floats = np.where(self.fixed, given, failed)
        return told

    def sample(self, draw: Ints, stuck: Floats, within: Floats) -> Floats:
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
        # Of a fixed attempt only what lies below the give-up time.
        ordinary_mass, tail_mass = (
            np.where(self.fixed, ndtr((np.log(self.give_up) - at) / sd), 1.0)
            for at, sd in ((usual, spread), (late, tail))
        )
        chance = share * tail_mass / (share * tail_mass + (1 - share) * ordinary_mass)  # (draw,)
        late_path = stuck < chance[draw]
        location = np.where(late_path, late[draw], usual[draw])
        scale = np.where(late_path, tail[draw], spread[draw])
        mass = np.where(late_path, tail_mass[draw], ordinary_mass[draw])
        return np.minimum(np.exp(location + scale * ndtri(within * mass)), self.give_up)

    def _parts(self) -> tuple[tuple[Floats, Floats, Floats], ...]:
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
        location = location - stored(draws, "severity_step")[:, 0]
    elif severity == 3:
        location = location + stored(draws, "severity_step")[:, 1]
    if method and method != catalogue.usual_method(kind):
        location = location + known_or_average(draws, "method_effect", method)
    if not fixed:
        location = location + required(draws, "failed_effect", catalogue.kinds[kind].family)
    return AttemptMinutes(
        location=location,
        spread=stored(draws, "spread"),
        tail_location=location + stored(draws, "tail_shift"),
        tail_spread=stored(draws, "tail_spread"),
        tail_share=stored(draws, "tail_share"),
        give_up=priors.give_up_minutes,
        fixed=fixed,
    )
