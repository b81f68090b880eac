"""Makes a unit with too many states small enough to plan.

First the order is narrowed: required repairs take turns by Mitten's ratio and
optional ones wait for them. If that is not enough, things are set aside one by
one, what is worth least first: checks not yet made, least telling first; second
methods, the least likely first; optional repairs, the cheapest loss first.
What is set aside is simply not done, so the plan stays one that can be
followed and its value is a lower bound on the exact one. The measured gaps are
in `tests/benchmarks/results/set-aside.json`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import replace
from functools import partial

from triage.domain.catalogue import Repair
from triage.errors import PlanTooLargeError
from triage.policy.problem.build import PlanInputs, with_problem
from triage.policy.problem.subproblem import keep
from triage.policy.solver.layout_cache import Layouts
from triage.policy.solver.repair_plan import PlanSpace
from triage.policy.solver.state_space import MAX_STATES

IN_TURN = "other orders of the repairs"


def set_aside_alike(inputs: PlanInputs, like: PlanInputs) -> PlanInputs:
    """A unit laid out anew with the same repairs and checks set aside as in `like`."""
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
    names = [IN_TURN]
    left = replace(inputs, problem=replace(inputs.problem, in_turn=True))
    for name, narrower in _narrowing(left):
        with suppress(PlanTooLargeError):
            return left, plan_space(left.problem, max_states), tuple(names)
        left = narrower(left)
        names.append(name)
    return left, plan_space(left.problem, max_states), tuple(names)


def _narrowing(inputs: PlanInputs) -> Iterator[tuple[str, Callable[[PlanInputs], PlanInputs]]]:
    """What to leave out, in order: a name, and how to leave it out of what is left."""
    checks = [check.key for check in inputs.problem.checks if check.result is None]
    seconds, optional = _dispensable(inputs)
    yield from ((_words(key), partial(_without_check, key=key)) for key in reversed(checks))
    for repair in (*seconds, *optional):
        yield repair.name, partial(_without_repair, slug=repair.slug)


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
