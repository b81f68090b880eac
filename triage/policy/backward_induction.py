"""Best act in every state of a state space, by exact backward induction.

Values are kept multiplied by W, the state's likelihood: a chance node is then
a plain sum over its outcomes and nothing is ever divided by a small number.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from triage.policy.state_space import StateSpace


@dataclass(frozen=True)
class Ending:
    """A way to end the plan.

    value : (view of the states) -> expected money, shape (state,).
    allowed : the same -> bool, shape (state,).
    """

    name: str
    value: Callable[[Any], np.ndarray]
    allowed: Callable[[Any], np.ndarray]


@dataclass(frozen=True)
class Policy:
    """The best act in every state.

    choice : ndarray of int, shape (state,): a move's index, or
        len(moves) + an ending's index; -1 where nothing is allowed.
    value : ndarray, shape (state,), expected money from there on.
    next_state : ndarray of int, shape (state, end), children of the chosen
        move, -1 padded.
    """

    choice: np.ndarray
    value: np.ndarray
    next_state: np.ndarray


def solve(space: StateSpace, endings: tuple[Ending, ...], view: Any) -> Policy:
    """Solve a state space for the policy of greatest expected money.

    Parameters
    ----------
    view : every state, as the endings read it.

    Ties go to an ending over a move, and to the earlier one listed.
    """
    count = len(space.states)
    moves = space.moves
    most = max((len(move.ends) for move in moves), default=1)
    best = np.full(count, -np.inf)  # value x W
    choice = np.full(count, -1, dtype=np.int64)
    next_state = np.full((count, most), -1, dtype=np.int64)
    for index, ending in enumerate(endings):
        allowed = ending.allowed(view)
        worth = np.where(allowed, ending.value(view) * space.weight, -np.inf)
        better = worth > best
        best[better] = worth[better]
        choice[better] = len(moves) + index
    for layer_arcs in reversed(space.arcs):
        for arc in layer_arcs:
            move = moves[arc.move]
            worth = (best[arc.children] - space.weight[arc.children] * np.asarray(move.costs)).sum(axis=1)
            current = best[arc.parents]
            if move.forced:
                # A forced move is the only thing allowed, so endings give way to it.
                better = np.ones(len(worth), dtype=bool)
            else:
                better = worth > current + 1e-12 * np.abs(np.where(np.isfinite(current), current, 0.0))
            rows = arc.parents[better]
            best[rows] = worth[better]
            choice[rows] = arc.move
            next_state[rows] = -1
            next_state[rows, : len(move.ends)] = arc.children[better]
    with np.errstate(invalid="ignore", divide="ignore"):
        value = np.where(space.weight > 0, best / space.weight, 0.0)
    return Policy(choice, value, next_state)


def on_policy(space: StateSpace, policy: Policy) -> np.ndarray:
    """Chance of passing through each state when the policy is followed, shape (state,).

    Under one policy a state is reached by one history only, so the chance is
    its likelihood W if it is reached at all.
    """
    reached = np.zeros(len(space.states), dtype=bool)
    reached[0] = True
    for layer in space.layers:
        rows = np.flatnonzero(reached[layer]) + layer.start
        rows = rows[(policy.choice[rows] >= 0) & (policy.choice[rows] < len(space.moves))]
        children = policy.next_state[rows].ravel()
        reached[children[children >= 0]] = True
    return np.where(reached, space.weight, 0.0)
