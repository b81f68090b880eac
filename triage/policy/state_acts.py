"""Every act of every state side by side: laid out once, whatever the chances and the money."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np


class Acts:
    """The acts allowed in each state, padded to one number of acts and of ends.

    children : ndarray of int, shape (end, act, state); one past the last state where there is none.
    move : ndarray of int, shape (act, state), a move's index; -1 where there is none.
    forced : ndarray of bool, shape (state,), whether an act must be made.

    Parameters
    ----------
    arcs : (move, forced, parents, children), shapes of the last two (row,) and
        (row, end), in the order in which ties are settled.
    """

    def __init__(
        self,
        states: int,
        layers: Sequence[slice],
        arcs: Iterable[tuple[int, bool, np.ndarray, np.ndarray]],
    ):
        arcs = list(arcs)
        count = np.zeros(states, dtype=np.int64)
        for _, _, parents, _ in arcs:
            count[parents] += 1
        most = int(count.max(initial=0))
        ends = max((children.shape[1] for *_, children in arcs), default=1)
        self.layers = tuple(layers)
        self.children = np.full((ends, most, states), states, dtype=np.intp)
        self.move = np.full((most, states), -1, dtype=np.intp)
        self.forced = np.zeros(states, dtype=bool)
        count[:] = 0
        for move, forced, parents, children in arcs:
            place = count[parents]
            self.children[: children.shape[1], place, parents] = children.T
            self.move[place, parents] = move
            self.forced[parents] |= forced
            count[parents] += 1

    def expected(self, weight: np.ndarray, amounts: Sequence[tuple[float, ...]]) -> np.ndarray:
        """An amount for each move's ends, expected and times W, shape (act, state)."""
        table = np.zeros((len(self.children), len(amounts) + 1))  # the last column is no move
        for index, each in enumerate(amounts):
            table[: len(each), index] = each[: len(table)]
        padded = np.append(weight, 0.0)
        total = np.zeros(self.move.shape)
        for children, row in zip(self.children, table, strict=True):
            total += padded[children] * row[self.move]
        return total
