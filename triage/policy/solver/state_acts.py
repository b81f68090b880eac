"""Every act of every state in one list: laid out once, whatever the chances and the money."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from triage.arrays import Bools, Floats, Ints


class ActLayer(NamedTuple):
    """The acts that leave one layer of states.

    acts : slice of the list of acts.
    states : ndarray of int, shape (row,), states that have any.
    starts : ndarray of int, shape (row,), where in the slice each one's acts begin.
    row : ndarray of int, shape (act,), which of `states` an act leaves.
    """

    acts: slice
    states: Ints
    starts: Ints
    row: Ints


@dataclass(frozen=True)
class Acts:
    """The acts allowed in each state, state by state in the order in which ties are settled.

    parents : ndarray of int, shape (act,), rising.
    children : ndarray of int, shape (end, act); one past the last state where an act has fewer ends.
    move : ndarray of int, shape (act,), a move's index.
    forced : ndarray of bool, shape (state,), whether an act must be made.
    layers : one `ActLayer` a layer of states that acts leave.
    """

    parents: Ints
    children: Ints
    move: Ints
    forced: Bools
    layers: tuple[ActLayer, ...]

    def of(self, state: int) -> range:
        """Places of a state's acts."""
        return range(*np.searchsorted(self.parents, [state, state + 1]))

    def only(self, acts: Bools, states: Bools, layers: Sequence[slice]) -> Acts:
        """Some of the acts, among some of the states.

        Parameters
        ----------
        acts, states : ndarrays of bool, which are kept; a kept act's states must be.
        layers : slices of the states that are kept.
        """
        place = np.append(np.cumsum(states) - 1, states.sum())
        parents = place[self.parents[acts]]
        return Acts(
            parents,
            place[self.children[:, acts]],
            self.move[acts],
            self.forced[states],
            _layers(parents, layers),
        )

    def expected(self, weight: Floats, amounts: Sequence[tuple[float, ...]]) -> Floats:
        """An amount for each move's ends, expected and times W, shape (act,)."""
        table = np.zeros((len(self.children), len(amounts)))
        for index, each in enumerate(amounts):
            table[: len(each), index] = each[: len(table)]
        padded = np.append(weight, 0.0)
        total = np.zeros(self.move.shape)
        for children, row in zip(self.children, table, strict=True):
            total += padded[children] * row[self.move]
        return total


def acts_of(
    states: int,
    layers: Sequence[slice],
    acts: Sequence[tuple[Ints, Ints, Ints]],
    forced: Bools,
) -> Acts:
    """Put the acts of all layers together.

    Parameters
    ----------
    layers : slices of the states.
    acts : for each layer that acts leave (parents, moves, children), parents
        rising, shapes (act,), (act,) and (end, act); a child is -1 where an act has fewer ends.
    forced : ndarray of bool, shape (move,).
    """
    if not acts:
        none = np.zeros(0, dtype=np.intp)
        return Acts(none, np.zeros((1, 0), dtype=np.intp), none, np.zeros(states, dtype=bool), ())
    parents, move, children = (np.concatenate(part, axis=-1) for part in zip(*acts, strict=True))
    must = np.zeros(states, dtype=bool)
    must[parents[forced[move]]] = True
    return Acts(parents, np.where(children < 0, states, children), move, must, _layers(parents, layers))


def _layers(parents: Ints, layers: Sequence[slice]) -> tuple[ActLayer, ...]:
    edges = np.searchsorted(parents, [0, *(layer.stop for layer in layers)])
    found = []
    for first, last in zip(edges[:-1], edges[1:], strict=True):
        if last > first:
            leaving = parents[first:last]
            new = np.append(True, leaving[1:] != leaving[:-1])
            starts = np.flatnonzero(new)
            found.append(ActLayer(slice(first, last), leaving[starts], starts, np.cumsum(new) - 1))
    return tuple(found)
