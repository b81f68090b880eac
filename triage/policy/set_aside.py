"""Makes a unit with too many states small enough to plan.

Checks not yet made are set aside first, the least telling ones before the
others; then second methods, then optional repairs, cheapest loss first.
What is set aside is simply not done, so the plan stays one that can be
followed and its value is a lower bound on the exact one. The measured gap is
in `tests/benchmarks/results/set-aside.json`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from triage.errors import PlanTooLargeError
from triage.policy.plan_inputs import PlanInputs, with_problem
from triage.policy.repair_plan import PlanSpace, plan_space
from triage.policy.shrink import keep
from triage.policy.state_space import MAX_STATES


def without_options(inputs: PlanInputs, dropped: set[int]) -> PlanInputs:
    """The same unit with some repairs not on offer."""
    kept = [i for i in range(len(inputs.problem.options)) if i not in dropped]
    return with_problem(inputs, keep(inputs.problem, options=kept), kept)


def set_aside_alike(inputs: PlanInputs, like: PlanInputs) -> PlanInputs:
    """A unit laid out anew with the same repairs and checks set aside as in `like`."""
    offered = {repair.slug for repair in like.repairs}
    made = {check.key for check in like.problem.checks}
    options = [i for i, repair in enumerate(inputs.repairs) if repair.slug in offered]
    checks = [i for i, check in enumerate(inputs.problem.checks) if check.key in made]
    return with_problem(inputs, keep(inputs.problem, options=options, checks=checks), options)


def small_enough(
    inputs: PlanInputs, max_states: int = MAX_STATES
) -> tuple[PlanInputs, PlanSpace, tuple[str, ...]]:
    """Lay out a unit's states, setting repairs aside until they fit.

    Returns
    -------
    inputs, space, names of the repairs set aside (none when exact).

    Raises
    ------
    PlanTooLargeError : the required repairs and unknowns alone are too many.
    """
    dropped: set[int] = set()
    order = _dispensable(inputs)
    names: list[str] = []
    while True:
        left = without_options(inputs, dropped) if dropped else inputs
        try:
            space = plan_space(left.problem, max_states)
        except PlanTooLargeError:
            if fewer := _one_check_fewer(inputs):
                inputs, name = fewer
                names.append(name)
                continue
            following = next(order, None)
            if following is None:
                raise
            dropped.add(following)
            continue
        return left, space, (*names, *(inputs.repairs[i].name for i in sorted(dropped)))


def _one_check_fewer(inputs: PlanInputs) -> tuple[PlanInputs, str] | None:
    """The unit without its last check not yet made, and that check's name; None when there is none."""
    open_checks = [i for i, check in enumerate(inputs.problem.checks) if check.result is None]
    if not open_checks:
        return None
    kept = [i for i in range(len(inputs.problem.checks)) if i != open_checks[-1]]
    name = inputs.problem.checks[open_checks[-1]].key.replace("-", " ")
    return replace(inputs, problem=keep(inputs.problem, checks=kept)), name


def _dispensable(inputs: PlanInputs) -> Iterator[int]:
    """Options that can be left out: second methods, then optional repairs by what they cost."""
    problem = inputs.problem
    covered: set[int] = set()
    seconds, optional = [], []
    for index, option in enumerate(problem.options):
        if set(option.closes) <= covered:
            seconds.append(index)
        elif all(not problem.items[i].required for i in option.closes):
            optional.append(index)
        covered |= set(option.closes)
    yield from sorted(seconds, key=lambda i: float(problem.weights @ problem.options[i].chance))
    yield from sorted(
        optional, key=lambda i: -(problem.options[i].parts[0] + problem.options[i].minutes[0] * problem.rate)
    )
