"""The forecasts of a stored decision, attempt by attempt, given the outcomes of the job so far.

A decision stores the chances of all patterns of outcomes of its first repairs
(`policy.promise.Promise`). From those follow the chance of each next attempt
given the ones before it. What it does not hold jointly (second tries, damage
that was only suspected, decisions stored before patterns were) is scored by its
chance alone, and counted.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np

from triage.domain.job.file import JobFile
from triage.domain.job.records import Decision
from triage.policy.answer.promise import LEVELS, Promise, TryPromise

# The 20 dots are mid-quantiles: .025, .075, ... .975.
_DOTS = (np.arange(20) + 0.5) / 20


@dataclass(frozen=True)
class AttemptForecast:
    """Chance of an attempt, and whether it is conditional on all earlier outcomes of its job."""

    chance: float
    given_earlier: bool


@dataclass(frozen=True)
class StoredForecast:
    """A kept decision and the day it was carried out; `promise` is None where none was kept."""

    day: date
    kept: Decision
    chances: dict[str, float]
    promise: Promise | None

    def attempts(self, tried: list[tuple[str, str, bool]], after: list[int]) -> list[AttemptForecast | None]:
        """Forecast the attempts of the job in order; None for one that was not foreseen at all.

        Parameters
        ----------
        tried : kind, repair and outcome of each.
        after : place of the failed attempt at the same finding that each follows, or -1.
        """
        known = self.promise or Promise()
        found: list[AttemptForecast | None] = []
        held: dict[str, bool] = {}
        outside = False
        for (kind, repair, fixed), before in zip(tried, after, strict=True):
            single = {one.repair: one for one in known.tries}.get(repair)
            if before >= 0:
                first = tried[before][1]
                second = single.after.get(first) if single else None
                found.append(None if second is None else AttemptForecast(second, False))
                outside = True
            elif repair in known.together and repair not in held:
                found.append(AttemptForecast(_given(known, repair, held), not outside))
                held[repair] = fixed
            else:
                alone = single.chance if single else self.chances.get(kind)
                seen = bool(held) or outside
                found.append(None if alone is None else AttemptForecast(alone, not seen))
                outside = True
        return found

    def minutes(self, repair: str) -> tuple[float, tuple[float, ...]] | None:
        """Mean and quantiles of the minutes of a try, where they were promised."""
        for one in (self.promise or Promise()).tries:
            if one.repair == repair:
                return one.mean_minutes, one.minutes
        return None

    def margins(self, paid_minor: int | None) -> tuple[float, np.ndarray] | None:
        """Mean and quantiles of the margin, in minor units and in the record's own terms.

        What the record has no minutes of is not charged; a price paid that is
        not the one judged by moves the margin by the difference.
        """
        dots = json.loads(self.kept.dots)
        if self.kept.margin_minor is None or len(dots) != len(_DOTS) or self.promise is None:
            return None
        # Without a price it was judged at the highest bid, or for nothing where no bid is low enough.
        judged = next((p for p in (self.kept.price_minor, self.kept.limit_minor) if p is not None), 0)
        shift = 0.0 if paid_minor is None else float(judged - paid_minor)
        quantiles = np.interp(LEVELS, _DOTS, dots)
        return self.kept.margin_minor + shift, quantiles + shift


def stored_forecast(job: JobFile) -> StoredForecast | str:
    """The decision on which a job was taken, or in words why there is none to judge."""
    taken = next((kept for kept in job.moves if kept.record.move == "take"), None)
    if taken is None:
        return "never accepted"
    before = [kept for kept in job.decisions if kept.id < taken.id]
    if not before:
        return "accepted without a saved decision"
    kept = before[-1].record  # the rules let nobody rewrite it
    return StoredForecast(
        taken.record.on, kept, json.loads(kept.chances), _promise(json.loads(kept.forecast))
    )


def _promise(forecast: dict[str, Any]) -> Promise | None:
    found = forecast.get("promise")
    if not found:
        return None
    tries = tuple(TryPromise(**{**one, "minutes": tuple(one["minutes"])}) for one in found["tries"])
    lists = {name: tuple(found[name]) for name in ("together", "patterns", "work_minutes")}
    return Promise(**{**found, "tries": tries, **lists})


def _given(promise: Promise, repair: str, held: dict[str, bool]) -> float:
    """Chance of one repair given the outcomes of others, from the patterns."""
    patterns = np.asarray(promise.patterns, float)
    place = {name: bit for bit, name in enumerate(promise.together)}
    failed = (np.arange(len(patterns))[:, None] >> np.arange(len(place))) & 1  # (pattern, repair)
    fits = np.ones(len(patterns), dtype=bool)
    for name, fixed in held.items():
        fits &= failed[:, place[name]] == (not fixed)
    both = patterns[fits & (failed[:, place[repair]] == 0)].sum()
    return float(both / max(patterns[fits].sum(), 1e-300))
