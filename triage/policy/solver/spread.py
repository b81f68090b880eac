"""The distribution of a margin: its tail, and its variance split into aleatory and epistemic parts.

References
----------
Rockafellar, R. T. and Uryasev, S. 2000, "Optimization of conditional
value-at-risk", Journal of Risk 2:21 (their loss is minus our margin).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from triage.policy.solver.repair_plan import RepairPlan
from triage.policy.solver.state_space import StateSpace

# "The worst 1 in 10."
TAIL = 0.1


@dataclass(frozen=True)
class SpreadSplit:
    """Variance of the margin in two parts, money squared.

    luck : aleatory: variance for one device with every chance known, the job effect
        and the spread of minutes and prices included.
    not_known : epistemic: variance of the expected margin over the posterior draws.
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


def margin_by_draw(plan: RepairPlan, draw: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Expected margin under each posterior draw, with the plan held fixed.

    Parameters
    ----------
    draw : ndarray of int, shape (scenario,), posterior draw of each scenario.

    Returns
    -------
    margin, weight : ndarrays, shape (draw,): money before what was paid to get
        the unit, and each draw's weight given the check results in hand.
    """
    space, problem = plan.plan_space.space, plan.plan_space.problem
    on = np.flatnonzero(plan.reach > 0)
    joint = _joint(space, on, problem.weights)
    count = int(draw.max()) + 1
    by_draw = np.stack([np.bincount(draw, row, count) for row in joint])
    place = {int(state): row for row, state in enumerate(on)}
    start = by_draw[place[0]]
    money = np.zeros(count)
    for state in on:
        choice = plan.policy.choice[state]
        if choice >= len(space.moves):
            # An ending's value is certain once its state is reached.
            money += by_draw[place[int(state)]] * plan.policy.value[state]
            continue
        move = space.moves[choice]
        for end, cost in enumerate(move.costs):
            child = int(plan.policy.next_state[state, end])
            if child in place:
                money -= by_draw[place[child]] * cost
    with np.errstate(invalid="ignore", divide="ignore"):
        margin = np.where(start > 0, money / start, 0.0)
    return margin, start / start.sum()


def split_spread(plan: RepairPlan, margins: np.ndarray, draw: np.ndarray) -> SpreadSplit:
    """Split the variance of the margin (law of total variance).

    Parameters
    ----------
    margins : ndarray, shape (path,), simulated margins of the same plan.
    draw : ndarray of int, shape (scenario,).
    """
    margin, weight = margin_by_draw(plan, draw)
    mean = float(weight @ margin)
    not_known = float(weight @ (margin - mean) ** 2)
    return SpreadSplit(max(float(margins.var()) - not_known, 0.0), not_known)


def _joint(space: StateSpace, rows: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """Weight of each scenario together with each state, shape (state, scenario)."""
    joint = np.tile(weights, (len(rows), 1))
    for factor in space.factors:
        joint *= factor.rows(space.states[np.ix_(rows, np.array(factor.columns, dtype=np.intp))], slice(None))
    return joint
