"""Makes a unit with too many states small enough to plan.

First the order is narrowed: required repairs take turns by Mitten's ratio and
optional ones wait for them. If that is not enough, things are set aside one by
one, what is worth least first: checks not yet made, least informative first; second
methods, the least likely first; optional repairs, the cheapest loss first; causes
of symptoms, the least likely first, counted with what nothing explains.
What is set aside is simply not done, so the plan stays one that can be
followed and its value is a lower bound on the exact one. The measured gaps are
in `tests/benchmarks/results/set-aside.json`.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import partial
from itertools import accumulate

from triage.domain.catalogue_entries import Repair
from triage.errors import PlanTooLargeError
from triage.policy.problem.build import PlanInputs, with_problem
from triage.policy.problem.problem import Item, PlanProblem
from triage.policy.problem.subproblem import keep, unexplained
from triage.policy.solver.layout_cache import Layouts
from triage.policy.solver.repair_plan import PlanSpace
from triage.policy.solver.state_space import MAX_STATES

IN_TURN = "other orders of the repairs"
_MOST_NAMED = 3


@dataclass(frozen=True)
class _Narrower:
    """One thing that can be left out: how, what it is, its name."""

    leave_out: Callable[[PlanInputs], PlanInputs]
    what: str
    name: str


def set_aside_alike(inputs: PlanInputs, like: PlanInputs) -> PlanInputs:
    """A unit laid out anew with the same repairs, checks and causes set aside as in `like`."""
    known = {_cause_of(like.problem, item) for item in like.problem.items}
    weighed = {fault.key for fault in like.problem.latent_faults}
    for symptom, kind in [_cause_of(inputs.problem, item) for item in inputs.problem.items]:
        if symptom in weighed and (symptom, kind) not in known:
            inputs = _without_cause(inputs, symptom, kind)
    for fault in inputs.problem.latent_faults:
        if fault.key not in weighed:
            inputs = _without_symptom(inputs, fault.key)
    offered = {repair.slug for repair in like.repairs}
    made = {check.key for check in like.problem.checks}
    options = [i for i, repair in enumerate(inputs.repairs) if repair.slug in offered]
    checks = [i for i, check in enumerate(inputs.problem.checks) if check.key in made]
    problem = replace(inputs.problem, in_turn=like.problem.in_turn)
    return with_problem(inputs, keep(problem, options=options, checks=checks), options)


def small_enough(
    inputs: PlanInputs, max_states: int = MAX_STATES, layouts: Layouts | None = None
) -> tuple[PlanInputs, PlanSpace, tuple[str, ...]]:
    """Lay out a unit's states, setting repairs aside until they fit.

    Parameters
    ----------
    layouts : those of units before it; none are known when None.

    Returns
    -------
    inputs, space, names of what was set aside (none when exact).

    Raises
    ------
    PlanTooLargeError : the required repairs and unknowns alone are too many.
    """
    plan_space = (layouts or Layouts()).plan_space
    with suppress(PlanTooLargeError):
        return inputs, plan_space(inputs.problem, max_states), ()
    in_turn = replace(inputs, problem=replace(inputs.problem, in_turn=True))
    narrowers = list(_narrowing(in_turn))
    narrowed = list(accumulate(narrowers, lambda left, one: one.leave_out(left), initial=in_turn))
    laid: dict[int, PlanSpace] = {}

    def fits(count: int) -> bool:
        with suppress(PlanTooLargeError):
            laid[count] = plan_space(narrowed[count].problem, max_states)
        return count in laid

    # Each leaves fewer states than the one before it: the first that fits is found by halving.
    count = bisect_left(range(len(narrowers)), True, key=fits)
    space = laid[count] if count in laid else plan_space(narrowed[count].problem, max_states)
    return narrowed[count], space, (IN_TURN, *_told(narrowers[:count]))


def _told(left_out: list[_Narrower]) -> Iterator[str]:
    """Names of what was left out; only counted where they are many."""
    for what in dict.fromkeys(one.what for one in left_out):
        names = [one.name for one in left_out if one.what == what]
        yield from names if len(names) <= _MOST_NAMED else [f"{len(names)} {what}"]


def _narrowing(inputs: PlanInputs) -> Iterator[_Narrower]:
    """What to leave out, in order."""
    checks = [check.key for check in inputs.problem.checks if check.result is None]
    seconds, optional = _dispensable(inputs)
    for key in reversed(checks):
        yield _Narrower(partial(_without_check, key=key), "checks", _words(key))
    for repair in (*seconds, *optional):
        yield _Narrower(partial(_without_repair, slug=repair.slug), "repairs", repair.name)
    causes = _unlikely_causes(inputs.problem)
    for symptom, kind in causes:
        name = f"{_words(kind)} as a cause of {_words(symptom)}"
        leave_out = partial(_without_cause, symptom=symptom, kind=kind)
        yield _Narrower(leave_out, "less likely causes of symptoms", name)

    for symptom in _unexplained_alike(inputs.problem, causes):
        yield _Narrower(partial(_without_symptom, symptom=symptom), "symptoms", _words(symptom))


def _unlikely_causes(problem: PlanProblem) -> list[tuple[str, str]]:
    """Symptom and cause, the least likely first: none that is a hazard or wet, or that a check has shown."""
    shown = {pair for check in problem.checks if check.result for pair in check.reveals}
    found = [
        (float(problem.weights @ fault.chance[item.branch]), _cause_of(problem, item))
        for item in problem.items
        if item.latent_fault >= 0 and not (item.unexplained or item.hazard or item.liquid)
        if (fault := problem.latent_faults[item.latent_fault]).trace_minutes is not None
        if (item.latent_fault, item.branch) not in shown
    ]
    return [cause for _, cause in sorted(found)]


def _unexplained_alike(problem: PlanProblem, left_out: list[tuple[str, str]]) -> list[str]:
    """Symptoms that nothing explains once causes are left out, but one: each ends the work as that does."""
    explained = {
        _cause_of(problem, item)[0]
        for item in problem.items
        if not item.unexplained and _cause_of(problem, item) not in left_out
    }
    traced = [fault.key for fault in problem.latent_faults if fault.trace_minutes is not None]
    return [symptom for symptom in traced if symptom not in explained][1:]


def _cause_of(problem: PlanProblem, item: Item) -> tuple[str, str]:
    """What is not known, and the damage that may be behind it."""
    return problem.latent_faults[item.latent_fault].key if item.latent_fault >= 0 else "", item.key


def _without_cause(inputs: PlanInputs, symptom: str, kind: str) -> PlanInputs:
    problem = inputs.problem
    item = next(item for item in problem.items if _cause_of(problem, item) == (symptom, kind))
    return with_problem(inputs, *unexplained(problem, item.latent_fault, [item.branch]))


def _without_symptom(inputs: PlanInputs, symptom: str) -> PlanInputs:
    problem = inputs.problem
    left = [m for m, fault in enumerate(problem.latent_faults) if fault.key != symptom]
    items = [i for i, item in enumerate(problem.items) if _cause_of(problem, item)[0] != symptom]
    # What is behind it counts as found, for the parts: at its worst, which none of its causes exceeds.
    harms = tuple(
        harm
        for item in problem.items
        if item.unexplained and _cause_of(problem, item)[0] == symptom
        for harm in item.harms
    )
    kept = replace(problem, harms=problem.harms + harms)
    return replace(inputs, problem=keep(kept, items=items, latent_faults=left))


def _without_check(inputs: PlanInputs, key: str) -> PlanInputs:
    kept = [i for i, check in enumerate(inputs.problem.checks) if check.key != key]
    return replace(inputs, problem=keep(inputs.problem, checks=kept))


def _without_repair(inputs: PlanInputs, slug: str) -> PlanInputs:
    kept = [i for i, repair in enumerate(inputs.repairs) if repair.slug != slug]
    return with_problem(inputs, keep(inputs.problem, options=kept), kept)


def _dispensable(inputs: PlanInputs) -> tuple[list[Repair], list[Repair]]:
    """Second methods, least likely first; then optional repairs, by what they cost."""
    problem = inputs.problem
    covered: set[int] = set()
    seconds, optional = [], []
    for index, option in enumerate(problem.options):
        if set(option.closes) <= covered:
            seconds.append((float(problem.weights @ option.chance), index))
        elif all(not problem.items[i].required for i in option.closes):
            optional.append((-option.parts[0] - option.minutes[0] * problem.rate, index))
        covered |= set(option.closes)
    first, last = ([inputs.repairs[index] for _, index in sorted(found)] for found in (seconds, optional))
    return first, last


def _words(slug: str) -> str:
    return slug.replace("-", " ")
