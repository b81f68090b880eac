"""The states a plan can reach, and how likely each is, exactly.

A plan unfolds along *digits*: one for each repair (untried, fixed, failed),
one for each thing not yet known, one for how far the unit is opened. Given a
scenario (posterior draw x node of the job effect) the digits are independent,
so the likelihood of a state is a product of one factor a digit and

    W(state) = sum over scenarios of weight x product of factors.

The chance of an outcome is W(child) / W(state): what has been seen on this
unit changes what is expected of the rest of it, by just as much as the
scenarios say. Splitting the digits in two halves turns W into one matrix
product, (left states x scenarios) by (scenarios x right states).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from triage.errors import PlanTooLargeError

# Largest number of states solved exactly; above it the caller must shrink the problem.
MAX_STATES = 100_000
# Cap on the floats held at once while likelihoods are formed (about 64 MB).
_CHUNK_FLOATS = 8_000_000
# An elementwise multiplication costs about as much as this many inside a matrix product.
_ELEMENT_COST = 25

Observe = Callable[[np.ndarray], Any]
Mask = Callable[[Any], np.ndarray]


@dataclass(frozen=True)
class Digit:
    """One thing that unfolds.

    factors : ndarray, shape (local, scenario), likelihood of each local state;
        row 0 is the start and is all ones.
    """

    name: str
    factors: np.ndarray


@dataclass(frozen=True)
class Move:
    """An act that changes one digit, with one or more chance outcomes.

    start : local state it starts from.
    ends : local states it can lead to; their factors sum to that of `start`.
    costs : money, one an end.
    minutes : bench minutes, one an end.
    allowed : (view of the states) -> bool, shape (state,).
    forced : when allowed, nothing but forced moves is.
    """

    name: str
    digit: int
    start: int
    ends: tuple[int, ...]
    costs: tuple[float, ...]
    minutes: tuple[float, ...]
    allowed: Mask
    forced: bool = False


@dataclass(frozen=True)
class Arc:
    """A move laid over one layer: rows of `parents` go to `children[:, end]`."""

    move: int
    parents: np.ndarray  # (row,)
    children: np.ndarray  # (row, end)


@dataclass(frozen=True)
class StateSpace:
    """Every reachable state.

    states : ndarray of int8, shape (state, digit); row 0 is the start.
    layers : slices of `states`, one a number of moves made.
    arcs : for each layer, the arcs that leave it.
    weight : ndarray, shape (state,), W of each state; weight[0] is 1.
    """

    digits: tuple[Digit, ...]
    moves: tuple[Move, ...]
    states: np.ndarray
    layers: tuple[slice, ...]
    arcs: tuple[tuple[Arc, ...], ...]
    weight: np.ndarray


def build_space(
    digits: tuple[Digit, ...],
    moves: tuple[Move, ...],
    weights: np.ndarray,
    observe: Observe = np.asarray,
    max_states: int = MAX_STATES,
) -> StateSpace:
    """Enumerate every state that some policy can reach, with its likelihood.

    Parameters
    ----------
    weights : ndarray, shape (scenario,), sums to 1.
    observe : makes, of states of shape (state, digit), the view that the
        moves' `allowed` read; built once a layer.

    Raises
    ------
    PlanTooLargeError : more than `max_states` states.
    """
    sizes = np.array([digit.factors.shape[0] for digit in digits], dtype=np.int64)
    strides = np.concatenate([[1], np.cumprod(sizes[:-1])]).astype(np.int64)
    layer = np.zeros((1, len(digits)), dtype=np.int8)
    offset, blocks, layers, arcs = 0, [layer], [slice(0, 1)], []
    while True:
        found, children = _leave(layer, moves, observe(layer))
        offset += len(layer)
        if not found:
            arcs.append(())
            break
        codes = [states @ strides for states in children]
        unique = np.unique(np.concatenate(codes))
        if offset + len(unique) > max_states:
            raise PlanTooLargeError(
                f"this unit has more than {max_states:,} states to weigh exactly; "
                "drop optional findings or settle a suspected one first"
            )
        first = layers[-1].start
        arcs.append(tuple(_arcs(found, codes, unique, first, offset)))
        layer = ((unique[:, None] // strides) % sizes).astype(np.int8)
        blocks.append(layer)
        layers.append(slice(offset, offset + len(unique)))
    states = np.concatenate(blocks)
    weight = likelihoods(states, digits, weights)
    return StateSpace(digits, moves, states, tuple(layers), tuple(arcs), weight)


def _leave(layer: np.ndarray, moves: tuple[Move, ...], view: Any) -> tuple[list, list[np.ndarray]]:
    """Allowed (move, rows) pairs of a layer, and the states each end leads to."""
    allowed = [(layer[:, move.digit] == move.start) & move.allowed(view) for move in moves]
    forced = np.zeros(len(layer), dtype=bool)
    for move, mask in zip(moves, allowed, strict=True):
        if move.forced:
            # One forced move at a time: their order is free, so the first stands.
            mask &= ~forced
            forced |= mask
    found, children = [], []
    for index, (move, mask) in enumerate(zip(moves, allowed, strict=True)):
        rows = np.flatnonzero(mask if move.forced else mask & ~forced)
        if not len(rows):
            continue
        found.append((index, rows, len(move.ends)))
        for end in move.ends:
            states = layer[rows].astype(np.int64)
            states[:, move.digit] = end
            children.append(states)
    return found, children


def _arcs(found: list, codes: list[np.ndarray], unique: np.ndarray, first: int, offset: int):
    place = 0
    for index, rows, ends in found:
        columns = [np.searchsorted(unique, code) + offset for code in codes[place : place + ends]]
        place += ends
        yield Arc(index, rows + first, np.stack(columns, axis=1))


def likelihoods(states: np.ndarray, digits: tuple[Digit, ...], weights: np.ndarray) -> np.ndarray:
    """W of each state, shape (state,): one matrix product over the scenarios."""
    cut = _best_cut(states, digits)
    left, left_of = _distinct(states[:, :cut], digits[:cut])
    right, right_of = _distinct(states[:, cut:], digits[cut:])
    table = np.zeros((len(left), len(right)))
    width = max(1, _CHUNK_FLOATS // (len(left) + len(right)))
    for start in range(0, len(weights), width):
        part = slice(start, start + width)
        ours = _products(left, digits[:cut], weights[part], part)
        theirs = _products(right, digits[cut:], np.ones_like(weights[part]), part)
        table += ours @ theirs.T
    return table[left_of, right_of]


def _products(states: np.ndarray, digits: tuple[Digit, ...], start: np.ndarray, part: slice) -> np.ndarray:
    """`start` times the likelihood of each partial state, shape (state, scenario)."""
    product = np.tile(start, (len(states), 1))
    for column, digit in enumerate(digits):
        changed = np.flatnonzero(states[:, column])
        product[changed] *= digit.factors[states[changed, column], part]
    return product


def _codes(states: np.ndarray, digits: tuple[Digit, ...]) -> np.ndarray:
    """One whole number for each state, shape (state,)."""
    sizes = [digit.factors.shape[0] for digit in digits]
    return (
        states.astype(np.int64) @ np.concatenate([[1], np.cumprod(sizes[:-1], dtype=np.int64)])[: len(sizes)]
    )


def _distinct(states: np.ndarray, digits: tuple[Digit, ...]) -> tuple[np.ndarray, np.ndarray]:
    """Distinct partial states, and which of them each state has."""
    _, first, of = np.unique(_codes(states, digits), return_index=True, return_inverse=True)
    return states[first], of


def _best_cut(states: np.ndarray, digits: tuple[Digit, ...]) -> int:
    """Where to split the digits so that the two tables and their product cost least."""
    costs = []
    for cut in range(1, len(digits)):
        left = len(np.unique(_codes(states[:, :cut], digits[:cut])))
        right = len(np.unique(_codes(states[:, cut:], digits[cut:])))
        costs.append(left * right + _ELEMENT_COST * (left * cut + right * (len(digits) - cut)))
    return int(np.argmin(costs)) + 1 if costs else 1
