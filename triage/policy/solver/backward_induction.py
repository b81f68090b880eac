"""Best act in every state of a state space, by exact backward induction.

Values are kept multiplied by W, the state's likelihood: a chance node is then
a plain sum over its outcomes and nothing is ever divided by a small number.
A whole layer of states is decided at once, under any number of prices at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from triage.arrays import Bools, Floats, Ints
from triage.policy.solver.state_space import EndingKind, StateSpace

# Of acts that are worth the same to this share, the earlier one listed stands.
_TIE = 1e-12


@dataclass(frozen=True)
class Ending:
    """A way to end the plan.

    value : ndarray, shape (state, case), expected money; one case stands for all.
    allowed : ndarray of bool, shape (state,).
    """

    kind: EndingKind
    value: Floats
    allowed: Bools


@dataclass(frozen=True)
class Policies:
    """The best act in every state, in each of several cases that share their chances.

    choice : ndarray of int, shape (state, case): a move's index, or len(moves) +
        an ending's index; -1 where nothing is allowed.
    act : ndarray of int, shape (state, case), a place in the space's acts; -1 for an ending.
    value : ndarray, shape (state, case), expected money from there on.
    """

    space: StateSpace
    choice: Ints
    act: Ints
    value: Floats

    @cached_property
    def reached(self) -> Bools:
        """Whether the policy passes through each state, shape (state, case)."""
        acts, states = self.space.acts, len(self.act)
        reached = np.zeros((states + 1, self.act.shape[1]), dtype=bool)
        reached[0] = True
        for layer in acts.layers:
            rows, cases = np.nonzero(reached[layer.states] & (self.act[layer.states] >= 0))
            reached[acts.children[:, self.act[layer.states[rows], cases]], cases] = True
        return reached[:-1]

    def only(self, case: int) -> Policy:
        """The policy of one case."""
        acts, act = self.space.acts, self.act[:, case]
        next_state = np.full((len(act), len(acts.children)), -1, dtype=np.int64)
        rows = np.flatnonzero(act >= 0)
        chosen = acts.children[:, act[rows]].T
        next_state[rows] = np.where(chosen < len(act), chosen, -1)
        return Policy(self.choice[:, case], self.value[:, case], next_state)


@dataclass(frozen=True)
class Policy:
    """The best act in every state.

    choice : ndarray of int, shape (state,): a move's index, or
        len(moves) + an ending's index; -1 where nothing is allowed.
    value : ndarray, shape (state,), expected money from there on.
    next_state : ndarray of int, shape (state, end), children of the chosen
        move, -1 padded.
    """

    choice: Ints
    value: Floats
    next_state: Ints


def solve(space: StateSpace, endings: Sequence[Ending], spent: Floats) -> Policies:
    """Solve a state space for the policy of greatest expected money, in every case.

    Ties go to an ending over a move, and to the earlier one listed.

    Parameters
    ----------
    spent : ndarray, shape (act,), expected cost of every act times W.
    """
    acts, weight = space.acts, space.weight[:, None]
    cases = max(entry.value.shape[1] for entry in endings)
    best = np.full((len(space.states) + 1, cases), -np.inf)  # value x W
    best[-1] = 0.0  # no state
    ended, choice = best[:-1], np.full((len(space.states), cases), -1, dtype=np.int64)
    for index, entry in enumerate(endings):
        worth = np.broadcast_to(entry.value, choice.shape) * weight
        better = (worth > ended) & (entry.allowed & ~acts.forced)[:, None]
        np.copyto(ended, worth, where=better)
        np.copyto(choice, len(space.moves) + index, where=better)
    act = np.full(choice.shape, -1, dtype=np.int64)
    for layer in reversed(acts.layers):
        first_end, *others = acts.children[:, layer.acts]
        worth = best.take(first_end, axis=0)  # (act, case)
        for end in others:
            worth += best.take(end, axis=0)
        worth -= spent[layer.acts, None]
        top, ended = np.maximum.reduceat(worth, layer.starts, axis=0), best[layer.states]
        taken = top > ended + _TIE * np.abs(np.where(np.isfinite(ended), ended, 0.0))
        near = worth >= (top - _TIE * np.abs(top)).take(layer.row, axis=0)
        place = np.arange(layer.acts.start, layer.acts.stop)[:, None]
        first = np.minimum.reduceat(np.where(near, place, layer.acts.stop), layer.starts, axis=0)
        act[layer.states] = np.where(taken, first, -1)
        choice[layer.states] = np.where(taken, acts.move[first], choice[layer.states])
        best[layer.states] = np.where(taken, top, ended)
    with np.errstate(invalid="ignore", divide="ignore"):
        value = np.where(weight > 0, best[:-1] / weight, 0.0)
    return Policies(space, choice, act, value)
