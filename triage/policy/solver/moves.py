"""The acts of a repair plan and when each is allowed.

An option may be tried when the unit is open far enough, its item is there and
not yet exhausted, and what must come before is settled. Every act then asks
the table of safety rules whether battery and liquid allow it.
"""

from __future__ import annotations

from functools import partial

import numpy as np

from triage.arrays import Bools, any_in_row
from triage.policy.problem.problem import LatentFault, PlanProblem
from triage.policy.problem.safety import bad_branches, looked_apart, tracks_battery
from triage.policy.solver.battery_moves import JUDGE, battery_moves, looks_at_the_battery
from triage.policy.solver.evidence import knowledge_factors
from triage.policy.solver.likelihood_layout import Factor
from triage.policy.solver.state_space import Digit, Move, MoveKind, TableFactor
from triage.policy.solver.state_view import (
    ACCESS_DIGIT,
    FAILED,
    FIRST_LATENT_FAULT,
    FIXED,
    NEGATIVE,
    POSITIVE,
    UNMADE,
    UNTRIED,
    StateView,
    first_check,
    first_option,
    rivals,
)

_OPEN, _WORK, _CLOSED_WORK, _TEST = (frozenset({act}) for act in ("open", "work", "closed-work", "test"))


def plan_digits(problem: PlanProblem) -> tuple[Digit, ...]:
    """Digits in order: access, latent faults, checks, options, and the battery where it is in question."""
    apart = looked_apart(problem)
    return (
        Digit("access", len(problem.access_minutes) + 1),
        *(
            Digit(latent_fault.key, latent_fault.chance.shape[0] + 1 + apart[place])
            for place, latent_fault in enumerate(problem.latent_faults)
        ),
        *(Digit(check.key, 3) for check in problem.checks),
        *(
            Digit(option.key, 3 + 2 * len(rivals(problem.options, index)))
            for index, option in enumerate(problem.options)
        ),
        *((Digit("battery", 3),) if tracks_battery(problem) else ()),
    )


def plan_factors(problem: PlanProblem) -> tuple[Factor, ...]:
    """What is likely given the scenario: one factor a group of latent faults and checks, one an option."""
    options = (_option_factor(problem, index) for index in range(len(problem.options)))
    return (*knowledge_factors(problem), *options)


def plan_start(problem: PlanProblem) -> np.ndarray:
    """Where the plan starts: check results in hand are read already."""
    start = np.zeros(len(plan_digits(problem)), dtype=np.int8)
    for index, check in enumerate(problem.checks):
        if check.result is not None:
            start[first_check(problem) + index] = POSITIVE if check.result else NEGATIVE
    return start


def plan_moves(problem: PlanProblem) -> tuple[Move, ...]:
    """Every act: looks and traces, checks, repairs, then opening the unit further."""
    moves: list[Move] = []
    for index, latent_fault in enumerate(problem.latent_faults):
        moves += _finding_out(problem, index, latent_fault)
    moves += [_checking(problem, index) for index in range(len(problem.checks))]
    for index in range(len(problem.options)):
        moves += _trying(problem, index)
    could = [(check.acts, partial(_may_check, index=index)) for index, check in enumerate(problem.checks)]
    could += [(option.acts, partial(_could_try, index=index)) for index, option in enumerate(problem.options)]
    battery = battery_moves(problem, could)
    return (*looks_at_the_battery(problem), *moves, *_opening(problem), *battery)


def turns(problem: PlanProblem) -> tuple[int, ...]:
    """Which turn each repair has, -1 where it need not wait for one; () where none need."""
    if not problem.in_turn:
        return ()
    at = [_turn(problem, index, False) for index in range(len(problem.options))]
    order = sorted({turn for turn in at if turn is not None})
    return tuple(-1 if turn is None else order.index(turn) for turn in at)


def _option_factor(problem: PlanProblem, index: int) -> TableFactor:
    option = problem.options[index]
    others = rivals(problem.options, index)
    chances = [option.chance, *(option.chance_after.get(j, option.chance) for j in others)]
    rows = [np.ones_like(option.chance)]
    for chance in chances:
        rows += [chance, 1.0 - chance]
    return TableFactor((first_option(problem) + index,), np.stack(rows))


def _checking(problem: PlanProblem, index: int) -> Move:
    """Make a check once, while something it reveals is still unknown."""
    check = problem.checks[index]
    hands = check.acts or (_WORK if check.access else check.acts)

    def allowed(view: StateView) -> Bools:
        return _may_check(view, index) & view.allow(hands)

    cost = check.minutes * problem.rate + check.extra
    return Move(
        MoveKind.CHECK,
        index,
        first_check(problem) + index,
        UNMADE,
        (POSITIVE, NEGATIVE),
        (cost, cost),
        (check.minutes, check.minutes),
        allowed,
    )


def _may_check(view: StateView, index: int) -> Bools:
    """Whether a check not made yet would tell something where it stands, safety aside, shape (state,)."""
    check = view.problem.checks[index]
    about = sorted({latent_fault for latent_fault, _ in check.reveals})
    useful = any_in_row(~view.known[:, about]) & (view.access >= check.access) & ~view.dead
    return useful & ~view.made[:, index] & ~any_in_row(view.made[:, list(check.excludes)])


def _finding_out(problem: PlanProblem, index: int, latent_fault: LatentFault) -> list[Move]:
    """A latent fault is traced by an act of its own, or settled by a look, or at the final test.

    Whether a suspect battery is bad shows when it is looked at, never at a final test.
    """
    apart, bad = looked_apart(problem)[index], bad_branches(problem)[index]
    digit, ends = FIRST_LATENT_FAULT + index, tuple(range(1, latent_fault.chance.shape[0] + 1))
    start = 0
    if apart:  # the look at the battery came first, and it was not that
        start, ends = len(ends) + 1, tuple(end for end in ends if end - 1 not in bad)
    minutes = latent_fault.trace_minutes or 0.0
    spent, cost = (minutes,) * len(ends), (minutes * problem.rate,) * len(ends)
    settle = partial(Move, subject=index, digit=digit, start=start, ends=ends, costs=cost, minutes=spent)
    # To look at anything else is work inside: a suspect battery is looked at first, a bad one is out.
    looking, judged = (JUDGE, JUDGE) if bad else (_WORK, frozenset[str]())
    first_looked_at = bool(bad) and problem.safety.battery == "suspect"

    def at_access(view: StateView) -> Bools:
        return view.access >= latent_fault.access

    def looked_at(view: StateView) -> Bools:
        seen = at_access(view) & view.allow(looking)
        return seen & view.battery_looked if first_looked_at else seen

    def on_the_bench(view: StateView) -> Bools:
        return at_access(view) & ~view.dead & view.allow(_TEST)

    def all_else_done(view: StateView) -> Bools:
        return ~at_access(view) & view.ready & view.allow(_TEST | judged)

    if latent_fault.trace_minutes is not None:
        return [settle(MoveKind.TRACE, allowed=on_the_bench)]
    return [
        settle(MoveKind.LOOK, allowed=looked_at, forced=True),
        settle(MoveKind.FINAL_TEST, allowed=all_else_done),
    ]


def _opening(problem: PlanProblem) -> list[Move]:
    """Open the unit one level further; the first may be for the look at battery or liquid alone."""
    groups = (problem.options, problem.latent_faults, problem.checks)
    needed = [entry.access for group in groups for entry in group]
    in_doubt = problem.safety.battery in ("suspect", "bad") or problem.safety.liquid != "none"
    needed.append(1 if in_doubt else 0)
    moves = []
    for level, minutes in enumerate(problem.access_minutes[: max(needed, default=0)]):

        def allowed(view: StateView, level: int = level) -> Bools:
            return ~view.dead & view.allow(_WORK if level else _OPEN)

        cost = minutes * problem.rate + problem.access_extra[level]
        moves.append(
            Move(MoveKind.OPEN, level, ACCESS_DIGIT, level, (level + 1,), (cost,), (minutes,), allowed)
        )
    return moves


def _trying(problem: PlanProblem, index: int) -> list[Move]:
    """One move for a first try, and one for a try after each rival that failed."""
    option = problem.options[index]
    digit = first_option(problem) + index
    costs = _costs(problem, index)
    others = rivals(problem.options, index)
    moves = []
    for place, rival in enumerate([None, *others]):

        def allowed(view: StateView, rival: int | None = rival) -> Bools:
            failed = view.failed[:, others]
            if rival is None:
                return _may_try(view, index) & ~any_in_row(failed)
            earlier = any_in_row(failed[:, : others.index(rival)])
            return _may_try(view, index) & view.failed[:, rival] & ~earlier

        ends = (FIXED + 2 * place, FAILED + 2 * place)
        turn = _turn(problem, index, rival is not None)
        moves.append(
            Move(MoveKind.REPAIR, index, digit, UNTRIED, ends, costs, option.minutes, allowed, turn=turn)
        )
    return moves


def _turn(problem: PlanProblem, index: int, second: bool) -> float | None:
    """When a required repair has its turn: Mitten's ratio, least over the methods of its damage.

    A second method follows the first at once or not at all.
    """
    if not problem.in_turn or not any(problem.items[i].required for i in problem.options[index].closes):
        return None
    return -1.0 if second else min(_ratio(problem, o) for o in _sharing(problem, index))


def _ratio(problem: PlanProblem, index: int) -> float:
    """Expected cost over chance of failing."""
    fails = 1.0 - float(problem.weights @ problem.options[index].chance)
    fixed, failed = _costs(problem, index)
    return (fixed * (1.0 - fails) + failed * fails) / max(fails, 1e-9)


def _sharing(problem: PlanProblem, index: int) -> set[int]:
    """Options tied to one another by the damage they close."""
    tied, new = {index}, {index}
    while new:
        new = {other for o in new for other in rivals(problem.options, o)} - tied
        tied |= new
    return tied


def _costs(problem: PlanProblem, index: int) -> tuple[float, float]:
    """Money an option costs when it works and when it fails."""
    option = problem.options[index]
    fixed, failed = (option.minutes[k] * problem.rate + option.parts[k] + option.extra[k] for k in (0, 1))
    return fixed, failed


def _waits(view: StateView, index: int) -> Bools | bool:
    """Whether an optional repair waits for the required ones, shape (state,)."""
    problem, option = view.problem, view.problem.options[index]
    optional = not any(problem.items[i].required for i in option.closes)
    leads = any(index in other.after for other in problem.options)
    return ~view.ready if problem.in_turn and optional and not leads else False


def _may_try(view: StateView, index: int) -> Bools:
    """Whether one option may be tried, shape (state,)."""
    option = view.problem.options[index]
    return _could_try(view, index) & view.allow(option.acts or (_WORK if option.access else _CLOSED_WORK))


def _could_try(view: StateView, index: int) -> Bools:
    """Access, need and precedence of one option, shape (state,); a new battery comes before other work."""
    return view.once(("could", index), lambda: _stands_ready(view, index))


def _stands_ready(view: StateView, index: int) -> Bools:
    problem = view.problem
    option = problem.options[index]
    allowed = any_in_row(view.workable[:, list(option.closes)])
    allowed &= (view.access >= option.access) & ~view.dead & ~np.asarray(_waits(view, index))
    for other, item in enumerate(problem.items):
        if item.hazard and other not in option.closes:
            allowed &= ~view.open[:, other]
    for earlier in option.after:
        for closed in problem.options[earlier].closes:
            if closed not in option.closes and problem.items[closed].required:
                allowed &= ~view.open[:, closed]
    # An optional repair passed over for one that must follow it stays passed
    # over, unless its damage only came to light afterwards.
    if all(not problem.items[i].required and problem.items[i].latent_fault < 0 for i in option.closes):
        for later, following in enumerate(problem.options):
            if index in following.after:
                allowed &= view.states[:, first_option(problem) + later] == UNTRIED
    return allowed
