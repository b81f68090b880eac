"""The states a plan can reach, and how likely each is, exactly.

A plan unfolds along *digits*: one for each repair (untried, fixed, failed),
one for each thing not yet known, one for each check, one for how far the unit
is opened. Given a scenario (posterior draw x node of the job effect) groups of
digits are independent, so the likelihood of a state is a product of one factor
a group and

    W(state) = sum over scenarios of weight x product of factors.

The chance of an outcome is W(child) / W(state): each result on a
device updates the chances of its other repairs by Bayes' rule. How W is formed is in `state_likelihood`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Any

import numpy as np

from triage.arrays import Bools, Floats, Ints
from triage.errors import PlanTooLargeError
from triage.policy.solver.likelihood_layout import Factor
from triage.policy.solver.state_acts import Acts, acts_of
from triage.policy.solver.state_likelihood import StateLikelihood

# Largest number of states solved exactly; above it the caller must shrink the problem.
MAX_STATES = 100_000

# Combinations of digits that are all looked at in one go, where there are no more.
_GRID = 6000

Observe = Callable[[np.ndarray], Any]
Mask = Callable[[Any], Bools]


@dataclass(frozen=True)
class Digit:
    """One thing that unfolds, with the number of local states it can be in (0 is untouched)."""

    name: str
    size: int


@dataclass(frozen=True)
class TableFactor:
    """A factor of one digit, given as a table.

    table : ndarray, shape (local, scenario); row 0 is all ones.
    by_draw : it is the same at every node of a posterior draw.
    """

    columns: tuple[int, ...]
    table: Floats
    by_draw: bool = False

    def rows(self, local: np.ndarray, part: slice) -> Floats:
        """Rows of the table, shape (row, scenario)."""
        return self.table[local[:, 0], part]


class MoveKind(StrEnum):
    """The sort of act that a move is; pages have their own labels."""

    OPEN = "open"
    TRACE = "trace"
    LOOK = "look"
    FINAL_TEST = "final-test"
    CHECK = "check"
    REPAIR = "repair"
    BATTERY_LOOK = "battery-look"
    MAKE_SAFE = "make-safe"
    TAKE_OUT = "take-out"


class EndingKind(StrEnum):
    """How a plan ends."""

    FINISH = "finish"
    STOP = "stop"


@dataclass(frozen=True)
class Move:
    """An act that changes one digit, with one or more chance outcomes.

    subject : index of what it is about: of a trace, a look or a final test the latent fault;
        of a check the check; of a repair the option; of an opening the access level it starts from.
    start : local state it starts from.
    ends : local states it can lead to; their likelihoods sum to that of `start`.
    costs : money, one an end.
    minutes : bench minutes, one an end.
    allowed : (view of the states) -> bool, shape (state,).
    forced : when allowed, nothing but forced moves is.
    turn : of the allowed moves that have one, only those of the lowest turn are.
    """

    kind: MoveKind
    subject: int
    digit: int
    start: int
    ends: tuple[int, ...]
    costs: tuple[float, ...]
    minutes: tuple[float, ...]
    allowed: Mask = field(compare=False)
    forced: bool = False
    turn: float | None = None


@dataclass(frozen=True)
class StateSpace:
    """Every reachable state.

    states : ndarray of int8, shape (state, digit); row 0 is the start.
    layers : slices of `states`, one a number of moves made.
    acts : what may be done in each.
    weight : ndarray, shape (state,), W of each state over W of the start.
    view : what `observe` makes of all states.
    weigher : makes `weight` of other chances; None where states are left out.
    """

    digits: tuple[Digit, ...]
    factors: tuple[Factor, ...]
    moves: tuple[Move, ...]
    states: np.ndarray
    layers: tuple[slice, ...]
    acts: Acts
    weight: Floats
    view: Any
    weigher: StateLikelihood | None

    def factor_of(self, digit: int) -> Factor | None:
        """The factor that covers a digit."""
        return next((factor for factor in self.factors if digit in factor.columns), None)


def build_space(
    digits: tuple[Digit, ...],
    factors: tuple[Factor, ...],
    moves: tuple[Move, ...],
    weights: Floats,
    start: np.ndarray,
    observe: Observe,
    max_states: int = MAX_STATES,
    nodes: int = 1,
) -> StateSpace:
    """Enumerate every state that some policy can reach, with its likelihood.

    Parameters
    ----------
    weights : ndarray, shape (scenario,), sums to 1.
    start : ndarray, shape (digit,), where the plan starts: zeros but for what
        is known already, such as check results in hand.
    observe : makes, of states of shape (state, digit), the view that the
        moves' `allowed` read, built once a layer; its `dead` says which states
        nothing leads on from.
    nodes : so many scenarios in a row are one posterior draw.

    Raises
    ------
    PlanTooLargeError : more than `max_states` states.
    """
    sizes = np.array([digit.size for digit in digits], dtype=np.int64)
    if np.log2(sizes.astype(float)).sum() > 62:
        raise too_large(max_states)
    strides = np.concatenate([[1], np.cumprod(sizes[:-1])]).astype(np.int64)

    def decoded(codes: np.ndarray) -> np.ndarray:
        # Digit by digit in memory, as views read them.
        states = np.empty((len(codes), len(sizes)), dtype=np.int8, order="F")
        left = codes
        for digit, size in enumerate(sizes):
            rest = left // size
            states[:, digit] = left - rest * size
            left = rest
        return states

    whole = None
    if np.prod(sizes.astype(float)) <= _GRID:
        # Few enough to ask of every combination at once what may be done in it.
        grid = decoded(np.arange(int(np.prod(sizes))))
        whole = _allowed(grid, moves, observe(grid))
    ends, steps = _ends(moves, strides)
    codes = np.asarray(start, dtype=np.int64)[None, :] @ strides
    offset, blocks, layers, acts = 0, [decoded(codes)], [slice(0, 1)], []
    while True:
        layer = blocks[-1]
        allowed = _allowed(layer, moves, observe(layer)) if whole is None else whole[codes]
        found = np.flatnonzero(allowed)  # state by state, moves in their order
        if not len(found):
            break
        rows = found // len(moves)
        made = found - rows * len(moves)
        children, real = codes[rows] + steps[:, made], ends[:, made]
        codes = _distinct(children[real])
        below = offset + len(layer)
        if below + len(codes) > max_states:
            raise too_large(max_states)
        acts.append((rows + offset, made, np.where(real, np.searchsorted(codes, children) + below, -1)))
        offset = below
        blocks.append(decoded(codes))
        layers.append(slice(offset, offset + len(codes)))
    states = np.concatenate(blocks)
    view = observe(states)
    laid = acts_of(len(states), layers, acts, np.array([move.forced for move in moves], dtype=bool))
    ended = view.dead.copy()
    ended[laid.parents] = False  # a bad cell is made safe even where nothing can be repaired any more
    weigher = StateLikelihood(states, ended, factors, laid.parents, laid.children)
    weight = weigher.weigh(factors, weights, nodes)
    return StateSpace(digits, factors, moves, states, tuple(layers), laid, weight, view, weigher)


def weighed(space: StateSpace, factors: tuple[Factor, ...], weights: Floats, nodes: int = 1) -> StateSpace:
    """The same states with the likelihood of each under some factors.

    Raises
    ------
    ValueError : the space leaves states out, so that W cannot be made of what is left.
    """
    if space.weigher is None:
        raise ValueError("states are left out of this space; weigh the whole one")
    return replace(space, factors=factors, weight=space.weigher.weigh(factors, weights, nodes))


def too_large(max_states: int) -> PlanTooLargeError:
    """The error for a unit with more states than can be held."""
    return PlanTooLargeError(
        f"this device is too complex to plan exactly (more than {max_states:,} states); "
        "leave out optional damage or check suspected damage first"
    )


def _allowed(states: np.ndarray, moves: tuple[Move, ...], view: Any) -> Bools:
    """Whether each move may be made in each state, shape (state, move)."""
    allowed = [(states[:, move.digit] == move.start) & move.allowed(view) for move in moves]
    forced = np.zeros(len(states), dtype=bool)
    for move, mask in zip(moves, allowed, strict=True):
        if move.forced:
            # One forced move at a time: their order is free, so the first stands.
            mask &= ~forced
            forced |= mask
    taken = forced.copy()
    turns = {index: move.turn for index, move in enumerate(moves) if move.turn is not None}
    for turn in sorted(set(turns.values())):
        before = taken.copy()
        for index, own in turns.items():
            if own == turn:
                allowed[index] &= ~before
                taken |= allowed[index]
    table = np.stack(allowed, axis=1) if moves else np.zeros((len(states), 0), dtype=bool)
    table[np.ix_(forced, np.array([not move.forced for move in moves], dtype=bool))] = False
    return table


def _ends(moves: tuple[Move, ...], strides: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Which ends each move has, and by how much each changes a state's code, both of shape (end, move)."""
    most = max((len(move.ends) for move in moves), default=1)
    real, steps = np.zeros((most, len(moves)), dtype=bool), np.zeros((most, len(moves)), dtype=np.int64)
    for index, move in enumerate(moves):
        real[: len(move.ends), index] = True
        steps[: len(move.ends), index] = (np.array(move.ends) - move.start) * strides[move.digit]
    return real, steps


def _distinct(codes: Ints) -> Ints:
    """The codes in rising order, each once; several times quicker than `np.unique`."""
    ordered = np.sort(codes)
    new: Bools = np.append(True, ordered[1:] != ordered[:-1])
    return ordered[new]
