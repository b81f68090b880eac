"""The repair plan: which act next, in which order, and when to stop, solved exactly.

States, acts and endings of a `PlanProblem` are laid over a `StateSpace`.
At each point: do an allowed repair, open the unit further, trace a cause, or
end (finish and sell, or stop). A required item that fails for good leaves only
stopping; an optional one that fails lowers the grade.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property, partial
from typing import Protocol

import numpy as np

from triage.policy.backward_induction import Ending, Policy, on_policy, solve
from triage.policy.plan_moves import plan_digits, plan_factors, plan_moves, plan_start
from triage.policy.plan_problem import PlanProblem
from triage.policy.state_likelihood import likelihoods
from triage.policy.state_space import MAX_STATES, Move, StateSpace, build_space, weighed
from triage.policy.state_view import FIRST_MYSTERY, StateView

FINISH, STOP = "finish", "stop"


class Terms(Protocol):
    """What an ending is worth in money, after fees and tax, before bench minutes."""

    def finish(self, grade: np.ndarray) -> np.ndarray:
        """Expected money from finishing at each grade 0, 1 or 2."""

    def stop(self, salvage: np.ndarray, recovered: np.ndarray) -> np.ndarray:
        """Expected money from stopping: surviving share of the parts value, and fitted parts."""


@dataclass(frozen=True)
class PlanSpace:
    """A problem with its states laid out; solved again for each bid or quote."""

    problem: PlanProblem
    space: StateSpace

    def presence(self, mystery: int, branch: int) -> float:
        """Chance of one branch of a mystery, given the check results in hand."""
        known = self.space.states[:1].repeat(2, axis=0)
        known[1, FIRST_MYSTERY + mystery] = branch + 1
        now, there = likelihoods(known, self.space.factors, self.problem.weights)
        return float(there / now)

    @cached_property
    def view(self) -> StateView:
        """Every state, read in the words of the plan."""
        return StateView(self.problem, self.space.states)


@dataclass(frozen=True)
class RepairPlan:
    """A solved plan.

    value : expected money from start to end, before what was paid to get the unit.
    reach : ndarray, shape (state,), chance of passing through each state.
    """

    plan_space: PlanSpace
    policy: Policy
    value: float
    reach: np.ndarray

    def act(self, state: int) -> str:
        """Name of the act chosen in a state: a move, `finish` or `stop`."""
        choice = int(self.policy.choice[state])
        moves = self.plan_space.space.moves
        return moves[choice].name if choice < len(moves) else (FINISH, STOP)[choice - len(moves)]

    def ends_in(self, ending: str) -> np.ndarray:
        """Whether the policy ends in a state by `finish` or `stop`, shape (state,)."""
        return self.policy.choice == len(self.plan_space.space.moves) + (FINISH, STOP).index(ending)

    @property
    def chance_finished(self) -> float:
        """Chance that every required item ends up closed and the unit is finished."""
        return float(self.reach[self.ends_in(FINISH)].sum())

    @property
    def expected_minutes(self) -> float:
        """Expected bench minutes, with closing, verification or stripping."""
        minutes = sum(float(chance @ np.asarray(move.minutes)) for move, chance in self.made_moves())
        opened = (self.plan_space.view.access > 0).astype(int)
        problem = self.plan_space.problem
        for ending, spent in ((FINISH, problem.finish_minutes), (STOP, problem.stop_minutes)):
            rows = self.ends_in(ending)
            minutes += float(self.reach[rows] @ np.take(spent, opened[rows]))
        return minutes

    def made_moves(self) -> Iterator[tuple[Move, np.ndarray]]:
        """Yield each move that the policy makes, with the chance of each of its ends."""
        for index, move in enumerate(self.plan_space.space.moves):
            rows = np.flatnonzero((self.policy.choice == index) & (self.reach > 0))
            if len(rows):
                children = self.policy.next_state[rows, : len(move.ends)]
                yield move, self.plan_space.space.weight[children].sum(axis=0)


def plan_space(problem: PlanProblem, max_states: int = MAX_STATES) -> PlanSpace:
    """Lay out every state of a problem.

    Raises
    ------
    PlanTooLargeError : more than `max_states` states.
    """
    space = build_space(
        plan_digits(problem),
        plan_factors(problem),
        plan_moves(problem),
        problem.weights,
        plan_start(problem),
        partial(StateView, problem),
        max_states,
    )
    return PlanSpace(problem, space)


def changed_space(plan: PlanSpace, problem: PlanProblem) -> PlanSpace:
    """The same states under other chances, money or minutes; what is allowed must not have changed."""
    space = weighed(plan.space, plan_factors(problem), problem.weights)
    return PlanSpace(problem, replace(space, moves=plan_moves(problem)))


def solve_plan(plan: PlanSpace, terms: Terms) -> RepairPlan:
    """Find the policy of greatest expected money under the given terms."""
    problem = plan.problem
    comebacks = [option.comeback for option in problem.options]
    recovered = [option.recovered for option in problem.options]

    def labour(view: StateView, minutes: tuple[float, float]) -> np.ndarray:
        return np.take(minutes, (view.access > 0).astype(int)) * problem.rate

    def finish(view: StateView) -> np.ndarray:
        lost = view.summed(comebacks) + problem.daily_loss * view.wait_days
        return terms.finish(view.grade) - lost - labour(view, problem.finish_minutes)

    def stop(view: StateView) -> np.ndarray:
        return terms.stop(view.salvage, view.summed(recovered)) - labour(view, problem.stop_minutes)

    endings = (
        Ending(FINISH, finish, lambda view: view.ready & view.settled),
        Ending(STOP, stop, lambda view: np.ones(len(view.states), dtype=bool)),
    )
    policy = solve(plan.space, endings, plan.view)
    return RepairPlan(plan, policy, float(policy.value[0]), on_policy(plan.space, policy))
