"""How likely each state of a plan is: W, by one matrix product over the scenarios.

    W(state) = sum over scenarios of weight x product of factors

What is summed with what depends on the states alone, so it is laid out once
and applied to any chances: to those of a changed unit, or of every unit of a
lot that has the same states.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

# Floats held at once while products are formed: about what a core keeps close by.
_CHUNK_FLOATS = 200_000
_LEAST_WIDTH = 256
# An elementwise multiplication costs about as much as this many inside a matrix product.
_ELEMENT_COST = 25


class Factor(Protocol):
    """The likelihood of a group of digits, given the scenario.

    columns : the digits it covers; each digit is covered by one factor at most,
        and one that none covers is certain (the access level).
    """

    columns: tuple[int, ...]

    def rows(self, local: np.ndarray, part: slice) -> np.ndarray:
        """Likelihood of local states (row, column) in some scenarios, shape (row, scenario)."""


@dataclass(frozen=True)
class _Level:
    """States told apart by one more factor.

    parent : ndarray of int, shape (row,), row of the level before.
    local : ndarray of int, shape (row,), row of `values`.
    values : ndarray, shape (value, column), local states of the factor.
    """

    parent: np.ndarray
    local: np.ndarray
    values: np.ndarray


class LikelihoodLayout:
    """What states have in common, so that nothing is multiplied twice.

    The factors are split in two halves; within a half, states that agree in
    the first factors share their product.
    """

    def __init__(self, states: np.ndarray, columns: Sequence[tuple[int, ...]]):
        locals_ = [_numbered(_codes(states, list(group))) for group in columns]
        self._cut = _best_cut([of for of, _ in locals_])
        self._left, self._left_of = _levels(states, columns[: self._cut], locals_[: self._cut])
        self._right, self._right_of = _levels(states, columns[self._cut :], locals_[self._cut :])

    def likelihoods(self, factors: Sequence[Factor], weights: np.ndarray) -> np.ndarray:
        """W of each state, shape (state,), under factors that cover the columns laid out."""
        left, right = factors[: self._cut], factors[self._cut :]
        most = sum(len(level.parent) for level in (*self._left[-1:], *self._right[-1:]))
        width = max(_LEAST_WIDTH, _CHUNK_FLOATS // max(most, 1))
        table: np.ndarray | float = 0.0
        for start in range(0, len(weights), width):
            part = slice(start, start + width)
            ours = _products(self._left, left, weights[part][None], part)
            theirs = _products(self._right, right, np.ones((1, ours.shape[1])), part)
            table = table + ours @ theirs.T
        return table[self._left_of, self._right_of]


def likelihoods(states: np.ndarray, factors: Sequence[Factor], weights: np.ndarray) -> np.ndarray:
    """W of each state, shape (state,)."""
    layout = LikelihoodLayout(states, [factor.columns for factor in factors])
    return layout.likelihoods(factors, weights)


class Weigher:
    """W of every state of a space; dead ends, which are most of them, cost nothing.

    The chance of failing is what the other outcomes of the same act leave.

    Parameters
    ----------
    dead : ndarray of bool, shape (state,), states that nothing leads on from.
    arcs : (parents, children) of every act, shapes (row,) and (row, end).
    """

    def __init__(
        self,
        states: np.ndarray,
        dead: np.ndarray,
        columns: Sequence[tuple[int, ...]],
        arcs: Sequence[tuple[np.ndarray, np.ndarray]],
    ):
        left_over = np.zeros(len(states), dtype=bool)
        for _, children in arcs:
            gone = dead[children]
            lone = gone.sum(axis=1) == 1
            left_over[children[lone][gone[lone]]] = True
        self._count = len(states)
        self._direct = np.flatnonzero(~left_over)
        self._layout = LikelihoodLayout(states[self._direct], columns)
        most = max((children.shape[1] for _, children in arcs), default=1)
        targets, parents, others = [], [], []
        for above, children in arcs:
            missing = left_over[children]
            rows = np.flatnonzero(missing.sum(axis=1) == 1)
            known = np.full((len(rows), most), len(states))  # past the end: reads a zero
            known[:, : children.shape[1]] = np.where(missing[rows], len(states), children[rows])
            targets.append(children[rows][missing[rows]])
            parents.append(above[rows])
            others.append(known)
        self._targets = np.concatenate(targets) if targets else np.zeros(0, dtype=np.int64)
        self._parents = np.concatenate(parents) if parents else np.zeros(0, dtype=np.int64)
        self._others = np.concatenate(others) if others else np.zeros((0, most), dtype=np.int64)

    def weigh(self, factors: Sequence[Factor], weights: np.ndarray) -> np.ndarray:
        """W of each state over W of the start, shape (state,)."""
        weight = np.zeros(self._count + 1)
        weight[self._direct] = self._layout.likelihoods(factors, weights)
        left = weight[self._parents] - weight[self._others].sum(axis=1)
        weight[self._targets] = np.maximum(left, 0.0)
        return weight[:-1] / weight[0]


def _products(levels: list[_Level], factors: Sequence[Factor], start: np.ndarray, part: slice) -> np.ndarray:
    """`start` times the likelihood of each distinct state under some factors, shape (row, scenario)."""
    product = start
    for level, factor in zip(levels, factors, strict=True):
        product = product[level.parent] * factor.rows(level.values, part)[level.local]
    return product


def _levels(
    states: np.ndarray,
    columns: Sequence[tuple[int, ...]],
    locals_: Sequence[tuple[np.ndarray, np.ndarray]],
) -> tuple[list[_Level], np.ndarray]:
    """One level a factor, and which row of the last one each state is."""
    levels, group = [], np.zeros(len(states), dtype=np.int64)
    for covered, (of, first) in zip(columns, locals_, strict=True):
        pair, at = _numbered(group * len(first) + of)
        levels.append(_Level(group[at], of[at], states[np.ix_(first, list(covered))]))
        group = pair
    return levels, group


def _best_cut(locals_: list[np.ndarray]) -> int:
    """Where to split the factors so that the two tables and their product cost least."""
    if len(locals_) < 2:
        return len(locals_)
    left, right = _counts(locals_), _counts(locals_[::-1])[::-1]
    costs = [
        left[cut - 1] * right[cut] + _ELEMENT_COST * (sum(left[:cut]) + sum(right[cut:]))
        for cut in range(1, len(locals_))
    ]
    return int(np.argmin(costs)) + 1


def _counts(locals_: list[np.ndarray]) -> list[int]:
    """How many distinct states the first factor tells apart, the first two, and so on."""
    group, counts = np.zeros_like(locals_[0]), []
    for of in locals_:
        group, first = _numbered(group * (int(of.max()) + 1) + of)
        counts.append(len(first))
    return counts


def _codes(states: np.ndarray, columns: list[int]) -> np.ndarray:
    """One whole number for each state's values in some columns, shape (state,)."""
    values = states[:, columns].astype(np.int64)
    sizes = values.max(axis=0, initial=0) + 1
    return values @ np.concatenate([[1], np.cumprod(sizes[:-1])]).astype(np.int64)


def _numbered(codes: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Small whole numbers renumbered without gaps, and where each first stands."""
    top = int(codes.max(initial=0)) + 1
    if top > 8 * len(codes) + 1024:
        _, first, of = np.unique(codes, return_index=True, return_inverse=True)
        return of, first
    there = np.zeros(top, dtype=bool)
    there[codes] = True
    of = (np.cumsum(there) - 1)[codes]
    first = np.empty(int(there.sum()), dtype=np.int64)
    first[of[::-1]] = np.arange(len(codes))[::-1]
    return of, first
