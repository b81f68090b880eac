"""How likely each state of a plan is: W, by matrix products over the scenarios.

    W(state) = sum over scenarios of weight x product of factors

What is summed with what depends on the states alone, so it is laid out once
(`likelihood_layout`) and applied to any chances: to those of a changed unit, or
of every unit of a lot that has the same states.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from triage.arrays import Floats
from triage.policy.solver.likelihood_layout import Factor, lay_out


def likelihoods(states: np.ndarray, factors: Sequence[Factor], weights: Floats, nodes: int = 1) -> Floats:
    """W of each state, shape (state,); every `nodes` scenarios in a row are one posterior draw."""
    return lay_out(states, factors).likelihoods(factors, weights, nodes)


class StateLikelihood:
    """W of every state of a space; dead ends, which are most of them, cost nothing.

    The chance of failing is what the other outcomes of the same act leave.

    Parameters
    ----------
    dead : ndarray of bool, shape (state,), states that nothing leads on from.
    factors : whose columns the states are laid out by.
    parents, children : of every act, shapes (act,) and (end, act); one past the
        last state where an act has fewer ends.
    """

    def __init__(
        self,
        states: np.ndarray,
        dead: np.ndarray,
        factors: Sequence[Factor],
        parents: np.ndarray,
        children: np.ndarray,
    ):
        self._count = len(states)
        gone = np.append(dead, False)[children]
        lone = np.flatnonzero(gone.sum(axis=0) == 1)
        left_over = np.zeros(len(states) + 1, dtype=bool)
        left_over[children[:, lone][gone[:, lone]]] = True
        self._direct = np.flatnonzero(~left_over[:-1])
        self._layout = lay_out(states[self._direct], factors)
        missing = left_over[children]
        acts = np.flatnonzero(missing.sum(axis=0) == 1)
        missing, ends = missing[:, acts], children[:, acts]
        self._targets = ends.T[missing.T]
        self._parents = parents[acts]
        self._others = np.where(missing, len(states), ends)  # past the end: reads a zero

    def weigh(self, factors: Sequence[Factor], weights: Floats, nodes: int) -> Floats:
        """W of each state over W of the start, shape (state,)."""
        likely = self.likelihoods(factors, weights, nodes)
        relative: Floats = likely / likely[0]
        return relative

    def likelihoods(self, factors: Sequence[Factor], weights: Floats, nodes: int) -> Floats:
        """W of each state, shape (state,)."""
        weight = np.zeros(self._count + 1)
        weight[self._direct] = self._layout.likelihoods(factors, weights, nodes)
        left = weight[self._parents] - weight[self._others].sum(axis=0)
        weight[self._targets] = np.maximum(left, 0.0)
        likely: Floats = weight[:-1]
        return likely
