"""The forecasts of an answer, stored so that they can be compared with what happened later.

The chances, minutes and margins on the page are means. To score them, more is
stored: the joint distribution of the outcomes of seen damage, and quantiles of
the minutes.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from triage.arrays import Floats
from triage.policy.pricing.outcome import Outcome
from triage.policy.problem.build import PlanInputs
from triage.policy.problem.forecast import RepairForecast, UnitForecast

# Quantiles that are kept: ends of the 50 % and 90 % intervals, and the middle.
LEVELS = (0.05, 0.25, 0.5, 0.75, 0.95)
# Outcomes of so many repairs are kept jointly: 64 patterns.
MOST_TOGETHER = 6


@dataclass(frozen=True)
class TryPromise:
    """One try at a seen damage.

    kind : the damage that leads it. chance : that it works, on its own.
    minutes, mean_minutes : at `LEVELS`, and their mean, whatever comes of the try.
    after : by repair that failed on the same finding first, the chance then.
    """

    repair: str
    kind: str
    chance: float
    minutes: tuple[float, ...]
    mean_minutes: float
    after: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Promise:
    """The forecasts that a later score needs.

    together : repairs whose outcomes are forecast jointly, the usual method of each damage.
    patterns : chance of each pattern of their outcomes, 2 ** len(together) of
        them: bit `i` of a pattern's place is set where the `i`-th failed.
    work_minutes, mean_work_minutes : at `LEVELS`, and their mean, bench minutes of
        all tries of the plan together.
    other_minutes, other_cost : expected minutes of all else that the plan
        charges (opening, checks, closing), and their money.
    """

    tries: tuple[TryPromise, ...] = ()
    together: tuple[str, ...] = ()
    patterns: tuple[float, ...] = ()
    work_minutes: tuple[float, ...] = ()
    mean_work_minutes: float = 0.0
    other_minutes: float = 0.0
    other_cost: float = 0.0


def promised(inputs: PlanInputs, forecast: UnitForecast, outcome: Outcome) -> Promise:
    """Collect the forecasts for a device at a price."""
    problem = inputs.problem
    usual: dict[str, RepairForecast] = {}
    tries: dict[tuple[str, str], TryPromise] = {}
    for index, item in enumerate(problem.items):
        closing = [o for o, option in enumerate(problem.options) if index in option.closes]
        if item.latent_fault >= 0 or not closing:
            continue
        for place, option in enumerate(closing):
            told = inputs.forecasts[option]
            tries.setdefault((told.repair, told.lead), _try(told, forecast))
            if place == 0:
                usual.setdefault(told.repair, told)
    together = tuple(usual)[:MOST_TOGETHER]
    played = outcome.played
    other = float((played.minutes - played.work).mean()) + outcome.entry_minutes
    return Promise(
        tries=tuple(tries.values()),
        together=together,
        patterns=_patterns([usual[repair].chance for repair in together], forecast.weights),
        work_minutes=_rounded(np.quantile(played.work, LEVELS)),
        mean_work_minutes=float(played.work.mean()),
        other_minutes=other,
        other_cost=other * problem.rate,
    )


def _try(told: RepairForecast, forecast: UnitForecast) -> TryPromise:
    works = told.chance[forecast.path_scenario]
    minutes = mixed_quantiles(told.minutes_fixed, told.minutes_failed, works)
    after = {}
    for other, second in told.chance_after.items():
        first = forecast.repairs.get((told.lead, other))
        if first is not None:
            failed = forecast.weights * (1 - first.chance)
            after[other] = float(failed @ second / max(failed.sum(), 1e-300))
    mean = float((works * told.minutes_fixed + (1 - works) * told.minutes_failed).mean())
    chance = float(forecast.weights @ told.chance)
    return TryPromise(told.repair, told.lead, chance, _rounded(minutes), mean, after)


def mixed_quantiles(
    fixed: Floats, failed: Floats, works: Floats, levels: tuple[float, ...] = LEVELS
) -> Floats:
    """Quantiles of what takes `fixed` where it works and `failed` where it does not.

    Parameters
    ----------
    fixed, failed : ndarray, shape (path,), equally likely values.
    works : chance that it works, shape (path,) or one number.
    """
    values: Floats = np.concatenate([fixed, failed])
    weight = np.concatenate([np.broadcast_to(works, fixed.shape), np.broadcast_to(1 - works, failed.shape)])
    order = np.argsort(values)
    mass = np.cumsum(weight[order])
    place = np.searchsorted(mass, np.asarray(levels) * mass[-1])
    quantiles: Floats = values[order[np.minimum(place, len(values) - 1)]]
    return quantiles


def _patterns(chances: list[np.ndarray], weights: np.ndarray) -> tuple[float, ...]:
    """Chance of every pattern of outcomes, the first repair's in the lowest bit."""
    rows = weights[None]
    for chance in chances:
        rows = np.concatenate([rows * chance, rows * (1 - chance)])
    return tuple(float(f"{mass:.6g}") for mass in rows.sum(axis=1)) if chances else ()


def _rounded(minutes: np.ndarray) -> tuple[float, ...]:
    return tuple(round(float(value), 1) for value in minutes)
