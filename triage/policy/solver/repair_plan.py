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
from triage.policy.solver.parts.chances import PartChances, part_chances, tilts
from triage.policy.solver.parts.played import Wreck
from triage.policy.solver.parts.stripping import Priced, Stopping, bundle, expected_purse, stripped
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
        plan = PlanSpace(problem, replace(laid, moves=plan_moves(problem), view=self.view.under(problem)))
        if space is None and "parts" in vars(self):
            plan.__dict__["parts"] = self.parts
        return plan

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
    def finish_minutes(self) -> Floats:
        """Bench minutes of closing and verifying in each state, shape (state,)."""
        minutes: Floats = np.take(self.problem.finish_minutes, (self.view.access > 0).astype(int))
        return minutes

    @cached_property
    def finishing(self) -> Floats:
        """Money lost by finishing in each state, shape (state,), whatever the terms."""
        problem, view = self.problem, self.view
        comebacks = view.summed([option.comeback for option in problem.options])
        return comebacks + problem.daily_loss * view.wait_days + self.finish_minutes * problem.rate

    @cached_property
    def parts(self) -> PartChances:
        """What is known of the parts of the unit in each state."""
        space = self.space
        if space.weigher is None:
            raise ValueError("states are left out of this space; weigh the whole one")
        tilt = tilts(self.problem, space.factors, space.weigher.likelihoods)
        return part_chances(self.view, tilt).over_draws()

    def stopping(self, terms: Terms) -> Stopping:
        """What stopping is worth in each state, under every case of the terms."""
        problem, view = self.problem, self.view
        if problem.parts and isinstance(terms, PurchaseTerms):
            return stripped(problem, self.parts, view.access, self.recovered, terms)
        minutes = np.take(problem.stop_minutes, (view.access > 0).astype(int))
        return bundle(terms.stop(view.salvage, self.recovered), minutes, problem.rate)

    @cached_property
    def recovered(self) -> Floats:
        """Parts value that the fitted parts add when it is stripped, shape (state,)."""
        return self.view.summed([option.recovered for option in self.problem.options])


@dataclass(frozen=True)
class RepairPlan:
    """A solved plan.

    value : expected money from start to end, before what was paid to get the unit.
    reach : ndarray, shape (state,), chance of passing through each state.
    stopping : what stopping is worth in each state, one case.
    """

    plan_space: PlanSpace
    policy: Policy
    value: float
    reach: Floats
    stopping: Stopping

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
        for ending, spent in ((FINISH, self.plan_space.finish_minutes), (STOP, self.stopping.minutes[:, 0])):
            rows = self.ends_in(ending)
            minutes += float(self.reach[rows] @ spent[rows])
        return minutes

    @property
    def wreck(self) -> Wreck:
        """What stripping it rests on, where it is valued part by part."""
        plan = self.plan_space
        return Wreck(plan.problem, plan.space, plan.parts, self.stopping, plan.recovered)

    def stop_purse(self, terms: Terms) -> Purse:
        """Expected money lines of stopping in each state, shape (state,) each, under the plan's own terms."""
        plan = self.plan_space
        if plan.problem.parts and isinstance(terms, PurchaseTerms):
            return expected_purse(plan.problem, plan.parts, self.stopping, plan.recovered, terms)
        return terms.stop_purse(plan.view.salvage, plan.recovered)

    def made_moves(self) -> Iterator[tuple[Move, Floats]]:
        """Yield each move that the policy makes, with the chance of each of its ends."""
        for index, move in enumerate(self.plan_space.space.moves):
            rows = np.flatnonzero((self.policy.choice == index) & (self.reach > 0))
            if len(rows):
                children = self.policy.next_state[rows, : len(move.ends)]
                yield move, self.plan_space.space.weight[children].sum(axis=0)


def stripped_at_once(problem: PlanProblem, terms: Priced) -> Stopping:
    """What stripping a unit with parts is worth before anything is done, one state; no plan is laid out."""
    start = plan_start(problem)[None]
    view = StateView(problem, start)
    tilt = tilts(problem, plan_factors(problem), partial(likelihoods, start))
    return stripped(problem, part_chances(view, tilt).over_draws(), view.access, np.zeros(1), terms)


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


def solve_plan(plan: PlanSpace, terms: Terms, to_the_end: bool = False) -> RepairPlan:
    """Find the policy of greatest expected money under the given terms.

    Parameters
    ----------
    to_the_end : work is stopped only where a repair that is needed has failed for good; the value is
        -inf where safety forbids to go on.
    """
    return PricedPlans(plan, *_solved(plan, terms, to_the_end)).plan(0)


@dataclass(frozen=True)
class PricedPlans:
    """The best plan at each of several prices.

    policies, stopping : one case a price.
    """

    plan_space: PlanSpace
    policies: Policies
    stopping: Stopping

    @property
    def value(self) -> Floats:
        """Expected money from start to end, before what was paid to get the unit."""
        value: Floats = self.policies.value[0]
        return value

    @cached_property
    def minutes(self) -> Floats:
        """Expected bench minutes, with closing, verification or stripping."""
        space = self.plan_space.space
        reached, act = self.policies.reached, self.policies.act
        minutes = np.zeros(act.shape[1])
        rows, cases = np.nonzero(reached & (act >= 0))
        np.add.at(minutes, cases, self.plan_space.act_minutes[act[rows, cases]])
        finishes, stops = (reached & (self.policies.choice == len(space.moves) + index) for index in (0, 1))
        minutes += (space.weight * self.plan_space.finish_minutes) @ finishes
        minutes += np.einsum("s,sc,sc->c", space.weight, self.stopping.minutes, stops)
        return minutes

    def first(self, count: int) -> PricedPlans:
        """The plans at the first of the prices."""
        cut = {name: getattr(self.policies, name)[:, :count] for name in ("choice", "act", "value")}
        return PricedPlans(self.plan_space, replace(self.policies, **cut), self.stopping.cases(slice(count)))

    def stops_at_once(self, case: int) -> bool:
        """Whether the plan is to stop before anything is done."""
        return bool(self.policies.choice[0, case] == len(self.plan_space.space.moves) + 1)

    def plan(self, case: int) -> RepairPlan:
        """The plan at one of the prices."""
        # Under one policy a state is reached by one history only, so the chance of
        # passing through it is its likelihood W if it is reached at all.
        reach = np.where(self.policies.reached[:, case], self.plan_space.space.weight, 0.0)
        policy = self.policies.only(case)
        stopping = self.stopping.cases(slice(case, case + 1))
        return RepairPlan(self.plan_space, policy, float(policy.value[0]), reach, stopping)


def solve_plans(plan: PlanSpace, terms: PurchaseTerms[Floats]) -> PricedPlans:
    """Find the best plan at every price of `terms.paid`, an array."""
    return PricedPlans(plan, *_solved(plan, terms))


def _solved(plan: PlanSpace, terms: Terms, to_the_end: bool = False) -> tuple[Policies, Stopping]:
    view, stopping = plan.view, plan.stopping(terms)
    finish = terms.finish(view.grade)
    finish = finish.reshape(len(finish), -1) - plan.finishing[:, None]  # terms of one price give one case
    may_finish, may_stop = view.may_end
    if to_the_end:
        may_stop = may_stop & view.decided
    endings = (
        Ending(FINISH, finish, view.ready & view.settled & may_finish),
        Ending(STOP, stopping.money, may_stop),
    )
    policies = solve(plan.space, endings, plan.act_costs)
    return policies, stopping.over(policies.choice.shape[1])
