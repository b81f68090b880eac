"""Plays a solved plan on many simulated jobs, for the spread of the margin.

The expected margin is exact and comes from the recursion; this file is about
the rest: how often money is lost, how bad it gets, where it goes. Each path
lives in one scenario, so repairs on one path hang together as they should.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from triage.policy.repair_plan import FINISH, RepairPlan, Terms
from triage.policy.state_view import StateView


@dataclass(frozen=True)
class OptionLuck:
    """How one repair falls out on each path; axis 0 is (when fixed, when failed).

    minutes : ndarray, shape (2, path), bench minutes.
    parts : ndarray, shape (2, path), money.
    extra : ndarray, shape (2, path), money for damage done and dead parts.
    comeback : ndarray, shape (path,), money lost to comebacks once fixed.
    """

    minutes: np.ndarray
    parts: np.ndarray
    extra: np.ndarray
    comeback: np.ndarray


@dataclass(frozen=True)
class Luck:
    """Everything that varies from path to path.

    scenario : ndarray of int, shape (path,).
    options : one `OptionLuck` an option of the problem.
    seed : of the uniform draws that decide outcomes.
    """

    scenario: np.ndarray
    options: tuple[OptionLuck, ...]
    seed: int = 0


@dataclass(frozen=True)
class Played:
    """What happened on each path; every array is (path,) long, money or minutes.

    margin : money kept, before `upfront`.
    finished : whether the unit was finished rather than stopped.
    """

    margin: np.ndarray
    minutes: np.ndarray
    finished: np.ndarray
    price: np.ndarray
    fees: np.ndarray
    tax: np.ndarray
    labour: np.ndarray
    parts: np.ndarray
    extra: np.ndarray
    comeback: np.ndarray


def play(plan: RepairPlan, terms: Terms, luck: Luck) -> Played:
    """Follow the plan on every path of `luck`."""
    space, problem = plan.plan_space.space, plan.plan_space.problem
    paths = len(luck.scenario)
    rng = np.random.default_rng(luck.seed)
    state = np.zeros(paths, dtype=np.int64)
    minutes, parts, extra = np.zeros(paths), np.zeros(paths), np.zeros(paths)
    first_option = len(space.digits) - len(problem.options)
    for _ in range(len(space.layers)):
        acting = plan.policy.choice[state] < len(space.moves)
        if not acting.any():
            break
        # One uniform a path and step, drawn whether needed or not: a changed
        # bid then meets the same luck.
        draw = rng.random(paths)
        for index in np.unique(plan.policy.choice[state[acting]]):
            move = space.moves[index]
            rows = np.flatnonzero(acting & (plan.policy.choice[state] == index))
            end = _outcome(space.digits[move.digit].factors, move.ends, luck.scenario[rows], draw[rows])
            option = move.digit - first_option
            if option >= 0:
                chosen = luck.options[option]
                minutes[rows] += chosen.minutes[end, rows]
                parts[rows] += chosen.parts[end, rows]
                extra[rows] += chosen.extra[end, rows]
            else:
                spent = np.asarray(move.minutes)[end]
                minutes[rows] += spent
                extra[rows] += np.asarray(move.costs)[end] - spent * problem.rate
            state[rows] = plan.policy.next_state[state[rows], end]
    return _settle(plan, terms, luck, state, minutes, parts, extra)


def _outcome(
    factors: np.ndarray, ends: tuple[int, ...], scenario: np.ndarray, draw: np.ndarray
) -> np.ndarray:
    """Which end each path meets, by its scenario's chances."""
    if len(ends) == 1:
        return np.zeros(len(draw), dtype=np.int64)
    bounds = np.cumsum(factors[list(ends)][:, scenario], axis=0)
    return (draw[None, :] * bounds[-1] > bounds[:-1]).sum(axis=0)


def _settle(plan, terms, luck, state, minutes, parts, extra) -> Played:
    """Pay out each path's ending."""
    problem = plan.plan_space.problem
    view = StateView(problem, plan.plan_space.space.states[state])
    finished = plan.ends_in(FINISH)[state]
    opened = (view.access > 0).astype(int)
    ending_minutes = np.where(
        finished, np.take(problem.finish_minutes, opened), np.take(problem.stop_minutes, opened)
    )
    minutes = minutes + ending_minutes
    comeback = np.zeros(len(state))
    for index, option in enumerate(luck.options):
        comeback += np.where(finished & view.fixed[:, index], option.comeback, 0.0)
    done = terms.finish_purse(view.grade, np.arange(len(state)))
    stopped = terms.stop_purse(view.salvage, view.summed([o.recovered for o in problem.options]))
    price, fees, tax = (
        np.where(finished, getattr(done, line), getattr(stopped, line)) for line in ("price", "fees", "tax")
    )
    labour = minutes * problem.rate
    margin = price - fees - tax - labour - parts - extra - comeback
    return Played(margin, minutes, finished, price, fees, tax, labour, parts, extra, comeback)
