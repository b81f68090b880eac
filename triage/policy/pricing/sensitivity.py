"""One-way sensitivity of the verdict: one input changes at a time."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import expit, logit

from triage.arrays import Floats
from triage.domain.shop.settings import GoRule
from triage.policy.pricing.outcome import ROUNDING, Outcome
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
    decides: Revalue | None = None,
) -> tuple[Swing, ...]:
    """Change one thing at a time; widest bar first.

    Parameters
    ----------
    revalue : values a unit at the price or quote in question.
    intervals : (option index, mean, low, high) of each repair's chance.
    decides : values a unit at the price that decides the verdict; as `revalue` when None.
    """
    turn = Turn(decides or revalue, rule)
    found = [
        _scaled(valuation, revalue, turn, name, change)
        for name, change in (
            ("part prices", _parts_times),
            ("bench minutes", _minutes_times),
            ("sale price", _sale_times),
        )
    ]
    found += [_chance(valuation, revalue, turn, *entry) for entry in intervals]
    return tuple(sorted(found, key=lambda s: -abs(s.margin_high - s.margin_low)))


@dataclass(frozen=True)
class Turn:
    """Where the rule starts or stops to hold.

    decides : values a unit at the price that decides.
    """

    decides: Revalue
    rule: GoRule

    def point(
        self, at: Callable[[float], Valuation], now: float, limits: tuple[float, float]
    ) -> float | None:
        """Nearest value on either side at which go becomes no-go, or the other way; None if none does.

        A better margin never stops a deal and a worse one never makes it: where the rule turns that way
        (a bolder plan may lose more often), it is no price to name.
        """

        def outcome(value: float) -> Outcome:
            return self.decides(at(value))

        here, points = outcome(now), []
        go = here.meets(self.rule)

        def same(other: Outcome) -> bool:
            gain = other.expected_margin - here.expected_margin
            return other.meets(self.rule) == go or (gain > ROUNDING if go else gain < -ROUNDING)

        for limit in limits:
            if same(outcome(limit)):
                continue
            kept, turned = now, limit
            for _ in range(_BISECTIONS):
                middle = (kept + turned) / 2.0
                kept, turned = (middle, turned) if same(outcome(middle)) else (kept, middle)
            points.append((kept + turned) / 2.0)
        return min(points, key=lambda point: abs(point - now)) if points else None


def _scaled(
    valuation: Valuation,
    revalue: Revalue,
    turn: Turn,
    name: str,
    change: Callable[[PlanInputs, float], PlanInputs],
) -> Swing:
    def at(times: float) -> Valuation:
        return valuation.with_inputs(change(valuation.inputs, times))

    low, high = (revalue(at(times)).expected_margin for times in (LESS, MORE))
    return Swing(name, "times", 1.0, LESS, MORE, low, high, turn.point(at, 1.0, (0.05, 5.0)))


def _chance(
    valuation: Valuation,
    revalue: Revalue,
    turn: Turn,
    option: int,
    mean: float,
    low: float,
    high: float,
) -> Swing:
    def at(chance: float) -> Valuation:
        shift = float(logit(np.clip(chance, 1e-6, 1 - 1e-6)) - logit(np.clip(mean, 1e-6, 1 - 1e-6)))
        problem = valuation.inputs.problem
        options = list(problem.options)
        options[option] = _shifted(options[option], shift)
        changed = replace(problem, options=tuple(options))
        inputs = replace(valuation.inputs, problem=changed)
        return Valuation(inputs, valuation.settings, changed_space(valuation.space, changed))

    name = valuation.inputs.repairs[option].name
    less, more = (revalue(at(chance)).expected_margin for chance in (low, high))
    return Swing(name, "chance", mean, low, high, less, more, turn.point(at, mean, (0.02, 0.98)))


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
