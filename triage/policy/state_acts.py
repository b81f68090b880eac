"""Every act of every state in one list: laid out once, whatever the chances and the money."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np


class ActLayer(NamedTuple):
    """The acts that leave one layer of states.

    acts : slice of the list of acts.
    states : ndarray of int, shape (row,), states that have any.
    starts : ndarray of int, shape (row,), where in the slice each one's acts begin.
    row : ndarray of int, shape (act,), which of `states` an act leaves.
    """

    acts: slice
    states: np.ndarray
    starts: np.ndarray
    row: np.ndarray


class Acts:
    """The acts allowed in each state, state by state in the order in which ties are settled.

    parents : ndarray of int, shape (act,), rising.
    children : ndarray of int, shape (end, act); one past the last state where an act has fewer ends.
    move : ndarray of int, shape (act,), a move's index.
    forced : ndarray of bool, shape (state,), whether an act must be made.
    layers : one `ActLayer` a layer of states that acts leave.

    Parameters
    ----------
    layers : slices of the states.
    arcs : (move, forced, parents, children), shapes of the last two (row,) and
        (row, end), in the order in which ties are settled.
    """

    def __init__(
        self,
        states: int,
        layers: Sequence[slice],
        arcs: Sequence[tuple[int, bool, np.ndarray, np.ndarray]],
    ):
        most = max((children.shape[1] for *_, children in arcs), default=1)
        rows = [len(parents) for _, _, parents, _ in arcs]
        parents = np.concatenate([np.zeros(0, dtype=np.intp), *(arc[2] for arc in arcs)])
        order = np.argsort(parents, kind="stable")
        children = np.full((most, len(parents)), states, dtype=np.intp)
        place = 0
        for (*_, ends), count in zip(arcs, rows, strict=True):
            children[: ends.shape[1], place : place + count] = ends.T
            place += count
        self.parents = parents[order]
        self.children = children[:, order]
        self.move = np.repeat(np.array([arc[0] for arc in arcs], dtype=np.intp), rows)[order]
        self.forced = np.zeros(states, dtype=bool)
        for _, forced, leaving, _ in arcs:
            if forced:
                self.forced[leaving] = True
        self.layers = tuple(self._layers(layers))

    def _layers(self, layers: Sequence[slice]):
        edges = np.searchsorted(self.parents, [0, *(layer.stop for layer in layers)])
        for first, last in zip(edges[:-1], edges[1:], strict=True):
            if last > first:
                leaving = self.parents[first:last]
                new = np.append(True, leaving[1:] != leaving[:-1])
                starts = np.flatnonzero(new)
                yield ActLayer(slice(first, last), leaving[starts], starts, np.cumsum(new) - 1)

    def expected(self, weight: np.ndarray, amounts: Sequence[tuple[float, ...]]) -> np.ndarray:
        """An amount for each move's ends, expected and times W, shape (act,)."""
        table = np.zeros((len(self.children), len(amounts)))
        for index, each in enumerate(amounts):
            table[: len(each), index] = each[: len(table)]
        padded = np.append(weight, 0.0)
        total = np.zeros(self.move.shape)
        for children, row in zip(self.children, table, strict=True):
            total += padded[children] * row[self.move]
        return total
