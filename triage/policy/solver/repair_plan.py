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

from triage.arrays import Bools, Floats, Ints
from triage.policy.problem.payoffs import PurchaseTerms, Purse
from triage.policy.problem.problem import PlanProblem
from triage.policy.solver.backward_induction import Ending, Policies, Policy, solve
from triage.policy.solver.moves import plan_digits, plan_factors, plan_moves, plan_start
from triage.policy.solver.state_likelihood import likelihoods
from triage.policy.solver.state_space import MAX_STATES, EndingKind, Move, StateSpace, build_space, weighed
from triage.policy.solver.state_view import FIRST_LATENT_FAULT, StateView

FINISH, STOP = EndingKind.FINISH, EndingKind.STOP


class Terms(Protocol):
    """What an ending is worth in money, after fees and tax, before bench minutes."""

    def finish(self, grade: Ints) -> Floats:
        """Expected money from finishing at each grade 0, 1 or 2."""

    def finish_by_draw(self) -> Floats:
        """Expected money from finishing given each posterior draw, (grade, draw) or (grade, 1)."""

    def stop(self, salvage: Floats, recovered: Floats) -> Floats:
        """Expected money from stopping: surviving share of the parts value, and fitted parts."""

    def finish_purse(self, grade: Ints, path: Ints) -> Purse:
        """Money lines of finishing at a grade on a path."""

    def stop_purse(self, salvage: Floats, recovered: Floats) -> Purse:
        """Money lines of stopping."""


@dataclass(frozen=True)
class PlanSpace:
    """A problem with its states laid out; solved again for each bid or quote."""

    problem: PlanProblem
    space: StateSpace

    def presence(self, latent_fault: int, branch: int) -> float:
        """Chance of one branch of a latent fault, given the check results in hand."""
        known = self.space.states[:1].repeat(2, axis=0)
        known[1, FIRST_LATENT_FAULT + latent_fault] = branch + 1
        now, there = likelihoods(known, self.space.factors, self.problem.weights, self.problem.nodes)
        return float(there / now)

    def under(self, problem: PlanProblem, space: StateSpace | None = None) -> PlanSpace:
        """The same states under other money and minutes; other chances come with their own `space`."""
        laid = space or self.space
        return PlanSpace(problem, replace(laid, moves=plan_moves(problem), view=self.view.under(problem)))

    @property
    def view(self) -> StateView:
        """Every state, as a view of the plan."""
        view: StateView = self.space.view
        return view

    @cached_property
    def act_costs(self) -> Floats:
        """Expected money of every act times W, shape (act,)."""
        return self.space.acts.expected(self.space.weight, [move.costs for move in self.space.moves])

    @cached_property
    def act_minutes(self) -> Floats:
        """Expected bench minutes of every act times W, shape (act,)."""
        return self.space.acts.expected(self.space.weight, [move.minutes for move in self.space.moves])

    @cached_property
    def ending_costs(self) -> tuple[Floats, Floats]:
        """Money lost by finishing in each state, and by stopping, shape (state,), whatever the terms."""
        problem, view = self.problem, self.view
        opened = (view.access > 0).astype(int)
        comebacks = view.summed([option.comeback for option in problem.options])
        finish_labour, stop_labour = (
            np.take(minutes, opened) * problem.rate
            for minutes in (problem.finish_minutes, problem.stop_minutes)
        )
        return comebacks + problem.daily_loss * view.wait_days + finish_labour, stop_labour

    @cached_property
    def recovered(self) -> Floats:
        """Parts value that the fitted parts add when it is stripped, shape (state,)."""
        return self.view.summed([option.recovered for option in self.problem.options])


@dataclass(frozen=True)
class RepairPlan:
    """A solved plan.

    value : expected money from start to end, before what was paid to get the unit.
    reach : ndarray, shape (state,), chance of passing through each state.
    """

    plan_space: PlanSpace
    policy: Policy
    value: float
    reach: Floats

    def act(self, state: int) -> Move | EndingKind:
        """The act chosen in a state: a move, or how the plan ends there."""
        choice = int(self.policy.choice[state])
        moves = self.plan_space.space.moves
        return moves[choice] if choice < len(moves) else (FINISH, STOP)[choice - len(moves)]

    def ends_in(self, ending: EndingKind) -> Bools:
        """Whether the policy ends in a state that way, shape (state,)."""
        place = len(self.plan_space.space.moves) + (FINISH, STOP).index(ending)
        ends: Bools = self.policy.choice == place
        return ends

    @cached_property
    def chance_finished(self) -> float:
        """Chance that every required item ends up closed and the unit is finished."""
        return float(self.reach[self.ends_in(FINISH)].sum())

    @cached_property
    def expected_minutes(self) -> float:
        """Expected bench minutes, with closing, verification or stripping."""
        minutes = sum(float(chance @ np.asarray(move.minutes)) for move, chance in self.made_moves())
        opened = (self.plan_space.view.access > 0).astype(int)
        problem = self.plan_space.problem
        for ending, spent in ((FINISH, problem.finish_minutes), (STOP, problem.stop_minutes)):
            rows = self.ends_in(ending)
            minutes += float(self.reach[rows] @ np.take(spent, opened[rows]))
        return minutes

    def made_moves(self) -> Iterator[tuple[Move, Floats]]:
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
        problem.nodes,
    )
    return PlanSpace(problem, space)


def changed_space(plan: PlanSpace, problem: PlanProblem) -> PlanSpace:
    """The same states under other chances, money or minutes; what is allowed must not have changed."""
    return plan.under(problem, weighed(plan.space, plan_factors(problem), problem.weights, problem.nodes))


def solve_plan(plan: PlanSpace, terms: Terms) -> RepairPlan:
    """Find the policy of greatest expected money under the given terms."""
    return PricedPlans(plan, _solved(plan, terms)).plan(0)


@dataclass(frozen=True)
class PricedPlans:
    """The best plan at each of several prices.

    policies : one case a price.
    """

    plan_space: PlanSpace
    policies: Policies

    @property
    def value(self) -> Floats:
        """Expected money from start to end, before what was paid to get the unit."""
        value: Floats = self.policies.value[0]
        return value

    @cached_property
    def minutes(self) -> Floats:
        """Expected bench minutes, with closing, verification or stripping."""
        space, problem = self.plan_space.space, self.plan_space.problem
        reached, act = self.policies.reached, self.policies.act
        minutes = np.zeros(act.shape[1])
        rows, cases = np.nonzero(reached & (act >= 0))
        np.add.at(minutes, cases, self.plan_space.act_minutes[act[rows, cases]])
        opened = (self.plan_space.view.access > 0).astype(int)
        for index, each in enumerate((problem.finish_minutes, problem.stop_minutes)):
            ends = reached & (self.policies.choice == len(space.moves) + index)
            minutes += (space.weight * np.take(each, opened)) @ ends
        return minutes

    def first(self, count: int) -> PricedPlans:
        """The plans at the first of the prices."""
        cut = {name: getattr(self.policies, name)[:, :count] for name in ("choice", "act", "value")}
        return PricedPlans(self.plan_space, replace(self.policies, **cut))

    def stops_at_once(self, case: int) -> bool:
        """Whether the plan is to stop before anything is done."""
        return bool(self.policies.choice[0, case] == len(self.plan_space.space.moves) + 1)

    def plan(self, case: int) -> RepairPlan:
        """The plan at one of the prices."""
        # Under one policy a state is reached by one history only, so the chance of
        # passing through it is its likelihood W if it is reached at all.
        reach = np.where(self.policies.reached[:, case], self.plan_space.space.weight, 0.0)
        policy = self.policies.only(case)
        return RepairPlan(self.plan_space, policy, float(policy.value[0]), reach)


def solve_plans(plan: PlanSpace, terms: PurchaseTerms[Floats]) -> PricedPlans:
    """Find the best plan at every price of `terms.paid`, an array."""
    return PricedPlans(plan, _solved(plan, terms))


def _solved(plan: PlanSpace, terms: Terms) -> Policies:
    view, (finishing, stopping) = plan.view, plan.ending_costs
    finish = _by_case(terms.finish(view.grade)) - finishing[:, None]
    stop = _by_case(terms.stop(view.salvage, plan.recovered)) - stopping[:, None]
    may_finish, may_stop = view.may_end
    endings = (
        Ending(FINISH, finish, view.ready & view.settled & may_finish),
        Ending(STOP, stop, may_stop),
    )
    return solve(plan.space, endings, plan.act_costs)


def _by_case(money: Floats) -> Floats:
    """Money as (state, case): terms of one price give one case."""
    return money[:, None] if money.ndim == 1 else money
