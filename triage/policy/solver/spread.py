"""The distribution of a margin: its tail, and its variance split into aleatory and epistemic parts.

References
----------
Rockafellar, R. T. and Uryasev, S. 2000, "Optimization of conditional
value-at-risk", Journal of Risk 2:21 (their loss is minus our margin).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from triage.arrays import Floats, Ints
from triage.policy.problem.payoffs import PurchaseTerms
from triage.policy.problem.problem import PlanProblem
from triage.policy.solver.likelihood_layout import Factor
from triage.policy.solver.parts.chances import part_chances, tilts
from triage.policy.solver.parts.stripping import LEFT, TESTED, part_worth
from triage.policy.solver.repair_plan import FINISH, STOP, RepairPlan, Terms
from triage.policy.solver.state_space import Move, MoveKind, StateSpace
from triage.policy.solver.state_view import StateView

# "The worst 1 in 10."
TAIL = 0.1


@dataclass(frozen=True)
class SpreadSplit:
    """Variance of the margin in two parts, money squared.

    luck : aleatory: variance for one device with every chance and level known, the job effect
        and the spread of minutes and prices included.
    not_known : epistemic: variance of the expected margin over the posterior draws of chances
        and of the levels of minutes, parts, comebacks and prices.
    """

    luck: float
    not_known: float

    @property
    def share_not_known(self) -> float:
        """Share of the variance that more past jobs would take away, 0 to 1."""
        total = self.luck + self.not_known
        return self.not_known / total if total > 0 else 0.0


def expected_shortfall(margins: np.ndarray, share: float = TAIL) -> float:
    """Mean of the worst `share` of equally likely margins, money.

    The margin at the quantile itself counts for the part of it that belongs
    to the tail, so an atom there is split.
    """
    ordered = np.sort(margins)
    count = share * len(ordered)
    whole = int(np.floor(count + 1e-9))
    total = ordered[:whole].sum()
    if whole < len(ordered):
        total += (count - whole) * ordered[whole]
    return float(total / count)


def margin_by_draw(plan: RepairPlan, terms: Terms) -> tuple[Floats, Floats]:
    """Expected margin given each posterior draw, with the plan held fixed.

    The chance of each act and ending given the draw, times its expected money given the
    draw: levels of minutes, parts, comebacks and sale price are those of the draw too,
    for they are the same for every unit.

    Parameters
    ----------
    terms : those the plan was made for.

    Returns
    -------
    margin, weight : ndarrays, shape (draw,): money before what was paid to get
        the unit, and each draw's weight given the check results in hand.
    """
    space, problem = plan.plan_space.space, plan.plan_space.problem
    on = np.flatnonzero(plan.reach > 0)
    joint = _joint(space, on, problem)
    place = np.full(len(space.states), -1)
    place[on] = np.arange(len(on))
    choice = plan.policy.choice[on]
    ended = choice >= len(space.moves)
    money = plan.policy.value[on[ended]] @ joint[ended]
    for index in np.unique(choice[~ended]):
        move = space.moves[index]
        children = place[plan.policy.next_state[on[choice == index], : len(move.ends)]]
        for reached, cost in zip(children.T, _costs(problem, move), strict=True):
            money -= joint[reached[reached >= 0]].sum(axis=0) * cost
    stops = plan.ends_in(STOP)[on]
    if problem.parts and isinstance(terms, PurchaseTerms) and stops.any():
        money += _parts_beyond_expected(plan, terms, on[stops], joint[stops])
    finished = plan.ends_in(FINISH)[on]
    money += _beyond_expected(plan, terms, on[finished], joint[finished])
    start = joint[0]
    margin = np.divide(money, start, out=np.zeros_like(money), where=start > 0)
    return margin, start / start.sum()


def split_spread(plan: RepairPlan, terms: Terms, margins: Floats, played: float = 1.0) -> SpreadSplit:
    """Split the variance of the margin (law of total variance).

    Parameters
    ----------
    margins : ndarray, shape (path,), simulated margins of the same plan under the same terms.
    played : chance that the plan is played at all, whatever is known of its chances.
    """
    margin, weight = margin_by_draw(plan, terms)
    mean = float(weight @ margin)
    not_known = played**2 * float(weight @ (margin - mean) ** 2)
    return SpreadSplit(max(float(margins.var()) - not_known, 0.0), not_known)


def _costs(problem: PlanProblem, move: Move) -> list[Floats | float]:
    """Expected money of each end of an act given the draw, shape (draw,), or the same for all of them."""
    if move.kind is not MoveKind.REPAIR:
        return list(move.costs)
    option = problem.options[move.subject]
    shared, rate = option.shared, problem.rate
    levels = (shared.minutes_fixed, shared.minutes_failed)
    return [
        cost + minutes * rate * (level - 1.0) + parts * (shared.parts - 1.0)
        for cost, minutes, parts, level in zip(move.costs, option.minutes, option.parts, levels, strict=True)
    ]


def _beyond_expected(plan: RepairPlan, terms: Terms, states: Ints, joint: Floats) -> Floats:
    """Money of finishing given the draw over what the plan expects, times W, shape (draw,).

    Parameters
    ----------
    states : ndarray of int, shape (state,), where the plan finishes.
    joint : ndarray, shape (state, draw), their weight.
    """
    view, sale = plan.plan_space.view, terms.finish_by_draw()
    over = sale - sale.mean(axis=1, keepdims=True)
    money: Floats = (joint * over[view.grade[states]]).sum(axis=0)
    for index, option in enumerate(plan.plan_space.problem.options):
        fixed = joint[view.fixed[states, index]].sum(axis=0)
        money -= fixed * option.comeback * (option.shared.comebacks - 1.0)
    return money


def _parts_beyond_expected(
    plan: RepairPlan, terms: PurchaseTerms[float], states: Ints, joint: Floats
) -> Floats:
    """Money of stripping given the draw over what the plan expects, times W, shape (draw,).

    Parameters
    ----------
    states : ndarray of int, shape (state,), where the plan strips.
    joint : ndarray, shape (state, draw), their weight.
    """
    laid, problem = plan.plan_space, plan.plan_space.problem
    view = StateView(problem, np.asfortranarray(laid.space.states[states]))

    def given_draw(factors: Sequence[Factor], weights: Floats, nodes: int) -> Floats:
        space = replace(laid.space, factors=tuple(factors))
        return _joint(space, states, replace(problem, weights=weights, nodes=nodes))

    by_draw = part_chances(view, tilts(problem, laid.space.factors, given_draw))
    money = np.zeros(joint.shape[1])
    for place, part in enumerate(problem.parts):
        how = plan.stopping.taken[place, states, 0]
        shares, of = laid.parts.levels[place]
        whole, untested = part_worth(part, (shares, of[states]), terms)
        good = by_draw.good[place] - laid.parts.good[place, states, None]
        proven = by_draw.proven[place] - laid.parts.proven[place, states, None]
        over = good * untested * (how != LEFT)[:, None]
        over += proven * (whole - untested) * (how == TESTED)[:, None]
        money += (joint * over).sum(axis=0)
    return money


def _joint(space: StateSpace, rows: Ints, problem: PlanProblem) -> Floats:
    """Weight of each draw together with each state, shape (state, draw).

    Only repairs hang on the job effect, so its nodes are summed where they meet alone,
    once for all states that agree in them.
    """
    states, weights, nodes = space.states[rows], problem.weights, problem.nodes
    of_job = [factor for factor in space.factors if not factor.by_draw]
    columns = [column for factor in of_job for column in factor.columns]
    distinct, of = np.unique(states[:, columns], axis=0, return_inverse=True)
    repaired = np.tile(weights, (len(distinct), 1))
    first = 0
    for factor in of_job:
        last = first + len(factor.columns)
        repaired *= factor.rows(distinct[:, first:last], slice(None))
        first = last
    joint: Floats = repaired.reshape(len(distinct), -1, nodes).sum(axis=2)[of.ravel()]
    for factor in space.factors:
        if factor.by_draw:
            joint *= factor.rows(states[:, list(factor.columns)], slice(None, None, nodes))
    return joint
