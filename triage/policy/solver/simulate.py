"""Simulates a solved plan on many jobs, for the distribution of the margin.

The expected margin is exact and comes from backward induction. The simulation
gives the rest: risk of loss, tail and breakdown. Each path belongs to one
scenario, so repairs on one path are correlated as the model says.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from triage.arrays import Bools, Floats, Ints
from triage.policy.problem.luck import Luck
from triage.policy.problem.payoffs import PurchaseTerms
from triage.policy.solver.parts.played import strip_paths
from triage.policy.solver.repair_plan import FINISH, PlanSpace, RepairPlan, Terms
from triage.policy.solver.state_space import Move, MoveKind, StateSpace
from triage.policy.solver.state_view import StateView


@dataclass(frozen=True)
class SimulatedOutcomes:
    """What happened on each path; every array is (path,) long, money or minutes.

    margin : money kept, before `upfront`.
    finished : whether the unit was finished rather than stopped.
    waiting : money lost to waiting for parts.
    days : days until the slowest part used is here.
    work : minutes of repair attempts alone.
    """

    margin: Floats
    minutes: Floats
    finished: Bools
    price: Floats
    fees: Floats
    tax: Floats
    labour: Floats
    parts: Floats
    extra: Floats
    comeback: Floats
    waiting: Floats
    days: Floats
    work: Floats


@dataclass(frozen=True)
class Paths:
    """Where a plan leads and what the way there took; every array is (path,) long.

    state : where each path ends. scenario : of each path.
    minutes : at the bench, `work` of them tries at repairs.
    parts, extra : what parts and all else cost, money.
    """

    state: Ints
    scenario: Ints
    minutes: Floats
    parts: Floats
    extra: Floats
    work: Floats


def play(plan: RepairPlan, terms: Terms, luck: Luck, start: int = 0) -> SimulatedOutcomes:
    """Follow the plan on every path of `luck`, and pay out each ending.

    Parameters
    ----------
    start : state to start from: what is known there weighs the scenarios.
    """
    return settle(plan, terms, luck, follow(plan, luck, start))


def follow(plan: RepairPlan, luck: Luck, start: int = 0) -> Paths:
    """Follow the plan on every path of `luck`: what it does there, whatever is paid."""
    space, problem = plan.plan_space.space, plan.plan_space.problem
    paths = len(luck.scenario)
    rng = np.random.default_rng(luck.seed)
    scenario = posterior_scenarios(plan.plan_space, luck, start)
    state = np.full(paths, start, dtype=np.int64)
    minutes, parts, extra, work = np.zeros((4, paths))
    for _ in range(len(space.layers)):
        acting = plan.policy.choice[state] < len(space.moves)
        if not acting.any():
            break
        # One uniform a path and step, drawn whether needed or not: a changed
        # bid then meets the same random numbers.
        draw = rng.random(paths)
        for index in np.unique(plan.policy.choice[state[acting]]):
            move = space.moves[index]
            rows = np.flatnonzero(acting & (plan.policy.choice[state] == index))
            end = _outcome(space, move, state[rows], scenario[rows], draw[rows])
            if move.kind is MoveKind.REPAIR:
                chosen = luck.options[move.subject]
                minutes[rows] += chosen.minutes[end, rows]
                work[rows] += chosen.minutes[end, rows]
                parts[rows] += chosen.parts[end, rows]
                extra[rows] += chosen.extra[end, rows]
            else:
                spent = np.asarray(move.minutes)[end]
                minutes[rows] += spent
                extra[rows] += np.asarray(move.costs)[end] - spent * problem.rate
            state[rows] = plan.policy.next_state[state[rows], end]
    return Paths(state, scenario, minutes, parts, extra, work)


def _outcome(
    space: StateSpace, move: Move, state: np.ndarray, scenario: np.ndarray, draw: np.ndarray
) -> np.ndarray:
    """Which end each path meets, by its scenario's chances; all arrays (path,) long."""
    factor = space.factor_of(move.digit)
    if len(move.ends) == 1 or factor is None:
        return np.zeros(len(draw), dtype=np.int64)
    distinct, of = np.unique(state, return_inverse=True)
    chances = np.empty((len(move.ends), len(state)))
    for place, end in enumerate(move.ends):
        children = space.states[distinct].copy()
        children[:, move.digit] = end
        rows = factor.rows(children[:, list(factor.columns)], slice(None))
        chances[place] = rows[of, scenario]
    bounds = np.cumsum(chances, axis=0)
    passed: Ints = (draw[None, :] * bounds[-1] > bounds[:-1]).sum(axis=0)
    return passed


def posterior_scenarios(plan_space: PlanSpace, luck: Luck, start: int = 0) -> np.ndarray:
    """Scenario of each path, shape (path,), given what is known in the state `start`.

    Where nothing is known yet these are `luck.scenario`. Otherwise scenarios
    are drawn anew, each as often as its weight after what is known.
    """
    space, problem = plan_space.space, plan_space.problem
    known = space.states[start : start + 1]
    if not known.any():
        return luck.scenario
    weight = np.array(problem.weights)
    for factor in space.factors:
        weight *= factor.rows(known[:, list(factor.columns)], slice(None))[0]
    rng = np.random.default_rng(luck.seed + 1)
    paths = len(luck.scenario)
    spread = (np.arange(paths) + rng.random()) / paths
    chosen = np.searchsorted(np.cumsum(weight) / weight.sum(), spread)
    return rng.permutation(np.minimum(chosen, len(weight) - 1))


def settle(plan: RepairPlan, terms: Terms, luck: Luck, paths: Paths) -> SimulatedOutcomes:
    """Pay out each path's ending; few states are ended in, so each is read once."""
    state, parts, extra = paths.state, paths.parts, paths.extra
    problem = plan.plan_space.problem
    ended, of = np.unique(state, return_inverse=True)
    view = StateView(problem, plan.plan_space.space.states[ended])
    done = plan.ends_in(FINISH)[ended]
    ending_minutes = np.where(done, plan.plan_space.finish_minutes[ended], plan.stopping.minutes[ended, 0])
    minutes, finished = paths.minutes + ending_minutes[of], done[of]
    comeback, days = np.zeros(len(state)), np.zeros(len(state))
    tried = view.fixed | view.failed
    for index in np.flatnonzero(tried.any(axis=0)):
        option = luck.options[int(index)]
        if option.days is not None:
            days = np.maximum(days, np.where(tried[of, index], option.days, 0.0))
        if (done & view.fixed[:, index]).any():
            comeback += np.where((done & view.fixed[:, index])[of], option.comeback, 0.0)
    if problem.parts and isinstance(terms, PurchaseTerms):
        stopped = strip_paths(plan.wreck, terms, luck, state, paths.scenario, ~finished)
        price, fees, tax = stopped.price, stopped.fees, stopped.tax
    else:
        stopped = terms.stop_purse(view.salvage, view.summed([o.recovered for o in problem.options]))
        price, fees, tax = (
            np.broadcast_to(getattr(stopped, line), ended.shape)[of] for line in ("price", "fees", "tax")
        )
    if done.any():
        sold = terms.finish_purse(view.grade[of], np.arange(len(state)))
        price, fees, tax = (
            np.where(finished, getattr(sold, line), stop)
            for line, stop in (("price", price), ("fees", fees), ("tax", tax))
        )
    waiting = np.where(done, problem.daily_loss * view.wait_days, 0.0)[of]
    labour = minutes * problem.rate
    margin = price - fees - tax - labour - parts - extra - comeback - waiting
    return SimulatedOutcomes(
        margin, minutes, finished, price, fees, tax, labour, parts, extra, comeback, waiting, days, paths.work
    )
