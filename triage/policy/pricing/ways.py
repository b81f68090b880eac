"""Ways to go with a device that could be bought, side by side: the plan, stripping it at once, leaving it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from triage.policy.pricing.outcome import Outcome
from triage.policy.pricing.right_to_sell import with_open_right
from triage.policy.pricing.valuation import Valuation
from triage.policy.problem.open_right import OpenRight
from triage.policy.solver.repair_plan import STOP

WayKind = Literal["plan", "repair", "strip", "leave"]


@dataclass(frozen=True)
class Way:
    """One way to go with a device at its price.

    kind : "plan" is the best plan of repairs, stops and all; "repair" to repair it until it works or a
        repair it needs fails, where the best plan is to strip it at once.
    margin : expected margin, money. losses_in_20 : of 20 such devices, how many lose money.
    minutes : expected bench minutes.
    """

    kind: WayKind
    margin: float
    losses_in_20: int
    minutes: float


_LEFT = Way("leave", 0.0, 0, 0.0)


def ways(valuation: Valuation, best: Outcome, paid: float, right: OpenRight) -> tuple[Way, ...]:
    """The ways that safety and ownership allow, the best plan's own first, then by margin.

    Parameters
    ----------
    valuation : of the unit, without its parts where nothing may be stripped yet.
    best : the unit under the best plan at this price, before what is open of the right to sell it.
    paid : price, money.
    """
    strips = best.plan.act(0) is STOP
    if strips:
        first, other = _way("strip", best, right, paid), valuation.repaired_at(paid)
        others = [] if other is None else [_way("repair", other, right, paid)]
    else:
        first, other = _way("plan", best, right, paid), _stripped_first(valuation, best, paid)
        others = [] if other is None or right.bars_stripping else [_way("strip", other, right, paid)]
    return (first, *sorted((*others, _LEFT), key=lambda way: -way.margin))


def _way(kind: WayKind, outcome: Outcome, right: OpenRight, paid: float) -> Way:
    """One way, with what is open of the right to sell it."""
    mixed = with_open_right(outcome, right, paid)
    return Way(kind, mixed.expected_margin, mixed.losses_in_20, mixed.expected_minutes)


def _stripped_first(valuation: Valuation, best: Outcome, paid: float) -> Outcome | None:
    """The same unit stripped before anything else is done; None where that is not allowed."""
    plan = best.plan
    space = plan.plan_space
    if not space.view.may_end[1][0]:
        return None
    choice, value, reach = plan.policy.choice.copy(), plan.policy.value.copy(), np.zeros_like(plan.reach)
    choice[0], value[0] = len(space.space.moves) + 1, plan.stopping.money[0, 0]
    reach[0] = plan.reach[0]
    policy = replace(plan.policy, choice=choice, value=value)
    return valuation.outcome_of(replace(plan, policy=policy, value=float(value[0]), reach=reach), paid)
