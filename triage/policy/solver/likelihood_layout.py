"""Sums of products over scenarios, laid out once for any chances.

Scenarios come draw by draw, each draw with so many nodes of the job effect.
Only repairs depend on the job effect, so where there are latent faults or checks as well

    W = sum over draws of (product of what is found out)
                        x (sum over the draw's nodes of weight x product of repairs)

and the nodes are summed out before the two are multiplied.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Protocol

import numpy as np

from triage.arrays import Floats, any_in_row

# Floats held at once while products are formed: about what a core keeps close by.
_CHUNK_FLOATS = 200_000
_LEAST_WIDTH = 256
# An elementwise multiplication costs about as much as this many inside a matrix product.
_ELEMENT_COST = 25
# A table of no more numbers than this is filled whole, whichever of them are wanted.
_SMALL_TABLE = 6000


class Factor(Protocol):
    """The likelihood of a group of digits, given the scenario."""

    @property
    def columns(self) -> tuple[int, ...]:
        """The digits it covers; each digit is covered by one factor at most.

        One that none covers is certain (the access level).
        """

    @property
    def by_draw(self) -> bool:
        """Whether it is the same at every node of a draw."""

    def rows(self, local: np.ndarray, part: slice) -> Floats:
        """Likelihood of local states (row, column) in some scenarios, shape (row, scenario)."""


class Layout(Protocol):
    """What states have in common, so that nothing is multiplied twice."""

    def likelihoods(self, factors: Sequence[Factor], weights: Floats, nodes: int) -> Floats:
        """W of each state, shape (state,), under factors that cover the columns laid out."""


def lay_out(states: np.ndarray, factors: Sequence[Factor]) -> Layout:
    """The layout that costs least.

    Parameters
    ----------
    factors : of which only the columns count, and which are the same all over a draw.
    """
    found_out = [place for place, factor in enumerate(factors) if factor.by_draw]
    repairs = [place for place, factor in enumerate(factors) if not factor.by_draw]
    if found_out:
        columns = [factor.columns for factor in factors]
        crossed = DrawsCrossed(states, columns, found_out, repairs)
        # Halves have at least 2 sqrt(n) rows and n pairs, and pay for them at every node.
        if crossed.rows <= 2.0 * np.sqrt(len(states)) + len(states) / _ELEMENT_COST + 50:
            return crossed
        halves = Halves(states, columns)
        return crossed if crossed.rows * _ELEMENT_COST < halves.cost else halves
    return Halves(states, [factor.columns for factor in factors])


@dataclass(frozen=True)
class _Level:
    """States distinguished by one more factor, those in the same local state side by side.

    parent : ndarray of int, shape (row,), row of the level before.
    edges : whole numbers, one more than values, where each local state's rows begin and end.
    values : ndarray, shape (value, column), local states of the factor.
    touched : for each of them, whether anything in it has happened; else it is certain.
    """

    parent: np.ndarray
    edges: list[int]
    values: np.ndarray
    touched: tuple[bool, ...]


class Halves:
    """The factors split in two halves; within a half, states that agree in the first share their product."""

    def __init__(self, states: np.ndarray, columns: Sequence[tuple[int, ...]]):
        locals_ = [_numbered(_codes(states, group)) for group in columns]
        self._cut, self.cost = _best_cut([of for of, _ in locals_])
        self._left, self._left_of = _levels(states, columns[: self._cut], locals_[: self._cut])
        self._right, self._right_of = _levels(states, columns[self._cut :], locals_[self._cut :])

    def likelihoods(self, factors: Sequence[Factor], weights: Floats, nodes: int) -> Floats:
        """W of each state, shape (state,); nodes are scenarios like others."""
        left, right = factors[: self._cut], factors[self._cut :]
        most = sum(len(level.parent) for level in (*self._left[-1:], *self._right[-1:]))
        width = max(_LEAST_WIDTH, _CHUNK_FLOATS // max(most, 1))
        table: Floats = np.zeros(())
        for start in range(0, len(weights), width):
            part = slice(start, min(start + width, len(weights)))
            ours = _products(self._left, left, weights[part][None], part)
            theirs = _products(self._right, right, np.ones((1, ours.shape[1])), part)
            table = table + ours @ theirs.T
        likely: Floats = table[self._left_of, self._right_of]
        return likely


class DrawsCrossed:
    """Repairs summed over the nodes of each draw, then multiplied by what is found out.

    Of all pairs of the two only some are states. Repairs paired with the same
    results make one block, of which every pair is needed.

    Parameters
    ----------
    found_out, repairs : places of the factors that are the same all over a draw, and of the others.
    """

    def __init__(
        self,
        states: np.ndarray,
        columns: Sequence[tuple[int, ...]],
        found_out: Sequence[int],
        repairs: Sequence[int],
    ):
        self._found_out, self._repairs = found_out, repairs
        self._ours, ours_of = _side(states, [columns[place] for place in repairs])
        self._theirs, theirs_of = _side(states, [columns[place] for place in found_out])
        self.rows = sum(len(level.parent) for level in self._ours)
        self._blocks, self._place = _blocks(ours_of, theirs_of)

    def likelihoods(self, factors: Sequence[Factor], weights: Floats, nodes: int) -> Floats:
        """W of each state, shape (state,)."""
        ours = [factors[place] for place in self._repairs]
        theirs = [factors[place] for place in self._found_out]
        most = max(sum(len(level.parent) for level in side[-1:]) for side in (self._ours, self._theirs))
        width = max(_LEAST_WIDTH, _CHUNK_FLOATS // max(most, 1)) * nodes
        tables = [np.zeros((len(mine), len(met))) for mine, met in self._blocks]
        for start in range(0, len(weights), width):
            stop = min(start + width, len(weights))
            summed: Floats = np.zeros(())
            for node in range(start, start + nodes):
                part = slice(node, stop, nodes)
                summed = summed + _products(self._ours, ours, weights[part][None], part)
            part = slice(start, stop, nodes)
            met_by = _products(self._theirs, theirs, np.ones((1, summed.shape[1])), part)
            for table, (mine, met) in zip(tables, self._blocks, strict=True):
                table += summed[mine] @ met_by[met].T
        likely: Floats = np.concatenate([table.ravel() for table in tables])[self._place]
        return likely


def _blocks(ours: np.ndarray, theirs: np.ndarray) -> tuple[list[tuple[np.ndarray, np.ndarray]], np.ndarray]:
    """Rows of ours and of theirs that make up each block, and where in all blocks each state stands.

    Parameters
    ----------
    ours, theirs : ndarrays of int, shape (state,), the two rows of each state.
    """
    mine, met = int(ours.max()) + 1, int(theirs.max()) + 1
    if mine * met <= max(_SMALL_TABLE, 2 * len(ours)):
        return [(np.arange(mine), np.arange(met))], ours * met + theirs
    order = np.argsort(ours * met + theirs)
    partners = theirs[order]
    ends = np.cumsum(np.bincount(ours, minlength=mine))
    alike: dict[bytes, list[int]] = {}
    for row, (start, end) in enumerate(zip(ends - np.bincount(ours, minlength=mine), ends, strict=True)):
        alike.setdefault(partners[start:end].tobytes(), []).append(row)
    blocks, place, filled = [], np.empty(len(ours), dtype=np.int64), 0
    for rows in alike.values():
        first = ends[rows[0] - 1] if rows[0] else 0
        met_by = partners[first : ends[rows[0]]]
        blocks.append((np.array(rows), met_by))
        for row in rows:
            place[order[ends[row] - len(met_by) : ends[row]]] = np.arange(filled, filled + len(met_by))
            filled += len(met_by)
    return blocks, place


def _products(levels: list[_Level], factors: Sequence[Factor], start: Floats, part: slice) -> Floats:
    """`start` times the likelihood of each distinct state under some factors, shape (row, scenario)."""
    product = start
    for level, factor in zip(levels, factors, strict=True):
        likely = factor.rows(level.values, part)
        product = product.take(level.parent, axis=0)
        for place, (first, last) in enumerate(pairwise(level.edges)):
            if level.touched[place]:
                product[first:last] *= likely[place]
    return product


def _side(states: np.ndarray, columns: Sequence[tuple[int, ...]]) -> tuple[list[_Level], np.ndarray]:
    """One level a factor, and which row of the last one each state is."""
    if not columns:
        return [], np.zeros(len(states), dtype=np.int64)
    every = tuple(column for group in columns for column in group)
    of, first = _numbered(_codes(states, every))
    distinct = states[first]
    levels, group = _levels(distinct, columns, [_numbered(_codes(distinct, each)) for each in columns])
    return levels, group[of]


def _levels(
    states: np.ndarray,
    columns: Sequence[tuple[int, ...]],
    locals_: Sequence[tuple[np.ndarray, np.ndarray]],
) -> tuple[list[_Level], np.ndarray]:
    """One level a factor, and which row of the last one each state is."""
    levels, group = [], np.zeros(len(states), dtype=np.int64)
    for covered, (of, first) in zip(columns, locals_, strict=True):
        pair, at = _numbered(of * (int(group.max(initial=0)) + 1) + group)
        values = states[np.ix_(first, np.array(covered, dtype=np.intp))]
        edges = np.searchsorted(of[at], np.arange(len(first) + 1)).tolist()
        levels.append(_Level(group[at], edges, values, tuple(any_in_row(values != 0).tolist())))
        group = pair
    return levels, group


def _best_cut(locals_: list[np.ndarray]) -> tuple[int, float]:
    """Where to split the factors so that the two tables and their product cost least, and what it costs."""
    if len(locals_) < 2:
        return len(locals_), 0.0
    left, right = _counts(locals_), _counts(locals_[::-1])[::-1]
    costs = [
        left[cut - 1] * right[cut] + _ELEMENT_COST * (sum(left[:cut]) + sum(right[cut:]))
        for cut in range(1, len(locals_))
    ]
    return int(np.argmin(costs)) + 1, float(min(costs))


def _counts(locals_: list[np.ndarray]) -> list[int]:
    """How many distinct states the first factor distinguishes, the first two, and so on."""
    group, counts = np.zeros_like(locals_[0]), []
    for of in locals_:
        group, first = _numbered(group * (int(of.max()) + 1) + of)
        counts.append(len(first))
    return counts


def _codes(states: np.ndarray, columns: Sequence[int]) -> np.ndarray:
    """One whole number for each state's values in some columns, shape (state,)."""
    codes, stride = np.zeros(len(states), dtype=np.int64), 1
    for column in columns:
        values = states[:, column]
        codes += values * np.int64(stride)
        stride *= int(values.max(initial=0)) + 1
    return codes


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
