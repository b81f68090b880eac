"""Checks before the decision to buy a device: which first, and the value of its information.

Before the shop pays, only checks from outside can be made. After each, the
device is bought if the go rule holds, and declined if not. This is backward
induction over those states of the plan in which only such checks have been made.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache

import numpy as np

from triage.policy.solver.repair_plan import RepairPlan
from triage.policy.solver.state_space import MoveKind
from triage.policy.solver.state_view import ACCESS_DIGIT


@dataclass(frozen=True)
class EarlyCheck:
    """One check made before deciding.

    worth : expected money it adds by itself, after its cost.
    changes : chance that its reading changes the decision.
    turns_good : chance that a device now declined is then bought.
    """

    check: int
    worth: float
    changes: float
    turns_good: float


@dataclass(frozen=True)
class BeforeDeciding:
    """The best check before the decision to buy or decline.

    first : index of the check to make first; None to decide at once.
    value : expected money of the best sequence of checks and decision.
    """

    first: int | None
    value: float
    checks: tuple[EarlyCheck, ...]


def before_deciding(
    plan: RepairPlan, outlay: float, takes: Callable[[int], bool] | None = None
) -> BeforeDeciding:
    """Solve for the best checks before a decision to take (for `outlay`) or leave.

    Parameters
    ----------
    outlay : money gone once the unit is taken.
    takes : state -> whether the shop's rule takes the unit there; None takes
        whatever is expected to earn anything.
    """
    rule = cache(takes or (lambda state: plan.policy.value[state] > outlay))
    memo: dict[int, tuple[float, int | None]] = {}

    def margin(state: int) -> float:
        return float(plan.policy.value[state]) - outlay if rule(int(state)) else 0.0

    def best(state: int) -> tuple[float, int | None]:
        if state not in memo:
            choices: list[tuple[float, int | None]] = [(margin(state), None)]
            for check, cost, chances, children in _early(plan, state):
                informed = sum(p * best(int(c))[0] for p, c in zip(chances, children, strict=True))
                choices.append((informed - cost, check))
            # On a tie the simpler choice stands: a check must earn more than nothing.
            memo[state] = max(choices, key=lambda choice: (round(choice[0], 9), choice[1] is None))
        return memo[state]

    value, first = best(0)
    alone = []
    for check, cost, chances, children in _early(plan, 0):
        worth = float(chances @ [margin(child) for child in children]) - cost - margin(0)
        taken = np.array([rule(int(child)) for child in children])
        turned = float(chances @ (taken != rule(0)))
        alone.append(EarlyCheck(check, worth, turned, 0.0 if rule(0) else turned))
    return BeforeDeciding(first, value, tuple(sorted(alone, key=lambda entry: -entry.worth)))


def _early(plan: RepairPlan, state: int) -> Iterator[tuple[int, float, np.ndarray, np.ndarray]]:
    """Yield (check, cost, chances, children) of each check from outside in a state."""
    space, problem = plan.plan_space.space, plan.plan_space.problem
    for act in space.acts.of(state):
        move = space.moves[space.acts.move[act]]
        if move.kind is not MoveKind.CHECK:
            continue
        if problem.checks[move.subject].access == 0 and space.states[state, ACCESS_DIGIT] == 0:
            children = space.acts.children[: len(move.ends), act]
            chances = space.weight[children] / space.weight[state]
            yield move.subject, move.costs[0], chances, children
