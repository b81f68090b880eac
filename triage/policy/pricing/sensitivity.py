"""One-way sensitivity of the verdict: one input changes at a time."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import expit, logit

from triage.arrays import Floats
from triage.domain.shop.settings import GoRule
from triage.policy.pricing.outcome import Outcome
from triage.policy.pricing.valuation import Valuation
from triage.policy.problem.build import PlanInputs
from triage.policy.problem.luck import OptionLuck
from triage.policy.problem.problem import Option
from triage.policy.solver.repair_plan import changed_space

Revalue = Callable[[Valuation], Outcome]
# How far minutes, parts and the sale price are moved to draw their bar.
LESS, MORE = 0.75, 1.35
_BISECTIONS = 8


@dataclass(frozen=True)
class Swing:
    """One input of the answer.

    low, high : the values tried, in the input's own unit (money, times, or chance).
    margin_low, margin_high : expected margin at each, money.
    now : its present value.
    flips_at : value at which the go rule starts or stops to hold; None when no
        value in the searched range does that.
    """

    name: str
    unit: str
    now: float
    low: float
    high: float
    margin_low: float
    margin_high: float
    flips_at: float | None


def swings(
    valuation: Valuation,
    revalue: Revalue,
    rule: GoRule,
    intervals: list[tuple[int, float, float, float]],
) -> tuple[Swing, ...]:
    """Change one thing at a time; widest bar first.

    Parameters
    ----------
    revalue : values a unit at the price or quote in question.
    intervals : (option index, mean, low, high) of each repair's chance.
    """
    go = revalue(valuation).meets(rule)
    found = [
        _scaled(valuation, revalue, rule, go, name, change)
        for name, change in (
            ("part prices", _parts_times),
            ("bench minutes", _minutes_times),
            ("sale price", _sale_times),
        )
    ]
    found += [_chance(valuation, revalue, rule, go, *entry) for entry in intervals]
    return tuple(sorted(found, key=lambda s: -abs(s.margin_high - s.margin_low)))


def _scaled(
    valuation: Valuation,
    revalue: Revalue,
    rule: GoRule,
    go: bool,
    name: str,
    change: Callable[[PlanInputs, float], PlanInputs],
) -> Swing:
    def at(times: float) -> Outcome:
        return revalue(valuation.with_inputs(change(valuation.inputs, times)))

    flips = _turning_point(lambda x: at(x).meets(rule), go, 1.0, (0.05, 5.0))
    return Swing(name, "times", 1.0, LESS, MORE, at(LESS).expected_margin, at(MORE).expected_margin, flips)


def _chance(
    valuation: Valuation,
    revalue: Revalue,
    rule: GoRule,
    go: bool,
    option: int,
    mean: float,
    low: float,
    high: float,
) -> Swing:
    def at(chance: float) -> Outcome:
        shift = float(logit(np.clip(chance, 1e-6, 1 - 1e-6)) - logit(np.clip(mean, 1e-6, 1 - 1e-6)))
        problem = valuation.inputs.problem
        options = list(problem.options)
        options[option] = _shifted(options[option], shift)
        changed = replace(problem, options=tuple(options))
        inputs = replace(valuation.inputs, problem=changed)
        return revalue(Valuation(inputs, valuation.settings, changed_space(valuation.space, changed)))

    flips = _turning_point(lambda x: at(x).meets(rule), go, mean, (0.02, 0.98))
    name = valuation.inputs.repairs[option].name
    return Swing(name, "chance", mean, low, high, at(low).expected_margin, at(high).expected_margin, flips)


def _turning_point(
    holds: Callable[[float], bool], go: bool, now: float, limits: tuple[float, float]
) -> float | None:
    """Nearest value on either side at which the verdict changes, by bisection; None if none does."""
    points = []
    for limit in limits:
        if holds(limit) == go:
            continue
        same, other = now, limit
        for _ in range(_BISECTIONS):
            middle = (same + other) / 2.0
            same, other = (middle, other) if holds(middle) == go else (same, middle)
        points.append((same + other) / 2.0)
    return min(points, key=lambda point: abs(point - now)) if points else None


def _shifted(option: Option, shift: float) -> Option:
    """A repair whose chance is moved on the logit scale in every scenario."""

    def moved(chance: Floats) -> Floats:
        return expit(logit(np.clip(chance, 1e-9, 1 - 1e-9)) + shift)

    return replace(
        option,
        chance=moved(option.chance),
        chance_after={other: moved(chance) for other, chance in option.chance_after.items()},
    )


def _parts_times(inputs: PlanInputs, times: float) -> PlanInputs:
    options = tuple(
        replace(
            option,
            parts=(times * option.parts[0], times * option.parts[1]),
            recovered=times * option.recovered,
        )
        for option in inputs.problem.options
    )
    luck = tuple(replace(entry, parts=times * entry.parts) for entry in inputs.luck.options)
    return _changed(inputs, options, luck)


def _minutes_times(inputs: PlanInputs, times: float) -> PlanInputs:
    options = tuple(
        replace(option, minutes=(times * option.minutes[0], times * option.minutes[1]))
        for option in inputs.problem.options
    )
    luck = tuple(replace(entry, minutes=times * entry.minutes) for entry in inputs.luck.options)
    return _changed(inputs, options, luck)


def _sale_times(inputs: PlanInputs, times: float) -> PlanInputs:
    return replace(inputs, sale=times * inputs.sale)


def _changed(inputs: PlanInputs, options: tuple[Option, ...], luck: tuple[OptionLuck, ...]) -> PlanInputs:
    return replace(
        inputs,
        problem=replace(inputs.problem, options=options),
        luck=replace(inputs.luck, options=luck),
    )
