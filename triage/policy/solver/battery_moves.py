"""Acts about the battery itself: the look at a suspect one, making a bad one safe, taking a good one out.

None of them is forced: the table of rules forbids everything else until they are made.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from triage.arrays import Bools
from triage.domain.safety.facts import BATTERY
from triage.policy.problem.problem import PlanProblem
from triage.policy.problem.safety import bad_branches, looked_apart, tracks_battery, wants_battery_out
from triage.policy.solver.state_space import Move, MoveKind
from triage.policy.solver.state_view import (
    AS_FOUND,
    FIRST_LATENT_FAULT,
    LOOKED,
    OUT,
    StateView,
    battery_column,
)

JUDGE, _TAKE_OUT = frozenset({"judge-battery"}), frozenset({"take-out"})
_SUSPECT, _BAD = BATTERY.index("suspect"), BATTERY.index("bad")


def battery_moves(
    problem: PlanProblem, could: Sequence[tuple[frozenset[str], Callable[[StateView], Bools]]]
) -> list[Move]:
    """Acts on the battery's own digit.

    Parameters
    ----------
    could : repairs and checks not made yet: what the hands do, and (view) -> whether
        everything but the safety rules allows them, shape (state,).
    """
    if not tracks_battery(problem):
        return []
    safety, digit = problem.safety, battery_column(problem)
    waiting = [allowed for acts, allowed in could if wants_battery_out(problem, acts)]

    def act(
        kind: MoveKind, start: int, end: int, minutes: float, allowed: Callable[[StateView], Bools]
    ) -> Move:
        return Move(kind, 0, digit, start, (end,), (minutes * problem.rate,), (minutes,), allowed)

    def is_suspect(view: StateView) -> Bools:
        suspect: Bools = (view.facts.battery == _SUSPECT) & (view.access > 0)
        return suspect

    def is_bad(view: StateView) -> Bools:
        bad: Bools = (view.facts.battery == _BAD) & (view.access > 0)
        return bad

    def must_come_out(view: StateView) -> Bools:
        wanted = np.zeros(len(view.states), dtype=bool)
        for allowed in waiting:
            wanted |= allowed(view)
        in_the_way: Bools = wanted & view.allow(_TAKE_OUT) & (view.facts.battery != _BAD)
        return in_the_way

    # Making safe a battery that is bad from the start is charged before anything else.
    make_safe = 0.0 if safety.battery == "bad" else safety.make_safe
    moves = [act(MoveKind.BATTERY_LOOK, AS_FOUND, LOOKED, safety.look, is_suspect)]
    for start in (AS_FOUND, LOOKED):
        moves.append(act(MoveKind.MAKE_SAFE, start, OUT, make_safe, is_bad))
        if waiting:
            moves.append(act(MoveKind.TAKE_OUT, start, OUT, safety.take_out, must_come_out))
    return moves


def looks_at_the_battery(problem: PlanProblem) -> list[Move]:
    """What the look at a suspect battery says of a symptom: its cause is a bad cell, or it is not."""
    moves = []
    for place, (apart, bad) in enumerate(zip(looked_apart(problem), bad_branches(problem), strict=True)):
        if not apart:
            continue
        rest = problem.latent_faults[place].chance.shape[0] + 1
        ends = (*(branch + 1 for branch in bad), rest)
        free = (0.0,) * len(ends)
        moves.append(
            Move(
                MoveKind.LOOK, place, FIRST_LATENT_FAULT + place, 0, ends, free, free,
                lambda view: view.battery_looked & view.allow(JUDGE), forced=True,
            )
        )  # fmt: skip
    return moves
