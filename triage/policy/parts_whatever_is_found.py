"""Whether stripping at once is best whatever turns out to be wrong with a unit.

What is not known yet makes most of a plan's states. Here it is told for
nothing: for each way the truth may be, the plan is made as if that were known
from the start, no repair waited for another and no cell stood in the way. No
plan of the unit as it is can be expected to earn more, since more is known and
more is allowed. So where stripping at once is best under every truth, it is
best as things stand, after any check, and nothing has to be planned.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import product

import numpy as np

from triage.domain.settings import Settings
from triage.errors import PlanTooLargeError
from triage.policy.plan_inputs import PlanInputs, with_problem
from triage.policy.plan_layouts import Layouts
from triage.policy.plan_problem import PlanProblem
from triage.policy.repair_plan import solve_plans
from triage.policy.shrink import keep
from triage.policy.stripping import parts_only, parts_terms

# With more ways than this, planning the unit costs less than looking at each.
MOST_TRUTHS = 64


def parts_whatever(inputs: PlanInputs, settings: Settings, layouts: Layouts) -> bool:
    """Whether stripping at once is best whatever is found and whatever is paid.

    False where that is not proved: the plan may still be to strip.
    """
    if parts_only(inputs, settings):
        return True
    truths = np.prod([len(mystery.chance) for mystery in inputs.problem.mysteries])
    if not 1 < truths <= MOST_TRUTHS:  # with nothing to find out, the plan itself is as quick
        return False
    try:
        return all(_stripped(known, settings, layouts) for known in _truths(inputs))
    except PlanTooLargeError:
        return False


def _truths(inputs: PlanInputs) -> Iterator[PlanInputs]:
    """The unit under every truth that can be, the one with least wrong first."""
    mysteries = inputs.problem.mysteries
    branches = [range(len(mystery.chance))[::-1] for mystery in mysteries]
    for truth in product(*branches):
        weights = np.array(inputs.problem.weights)
        for mystery, branch in zip(mysteries, truth, strict=True):
            weights = weights * mystery.chance[branch]
        if weights.sum() > 0:
            yield _known(inputs, dict(enumerate(truth)), weights / weights.sum())


def _known(inputs: PlanInputs, truth: dict[int, int], weights: np.ndarray) -> PlanInputs:
    problem = _unbound(inputs.problem)
    items = [
        place
        for place, item in enumerate(problem.items)
        if item.mystery < 0 or truth[item.mystery] == item.branch
    ]
    options = [place for place, option in enumerate(problem.options) if set(option.closes) & set(items)]
    left = replace(keep(problem, items, options, mysteries=()), weights=weights)
    return with_problem(inputs, left, options)


def _unbound(problem: PlanProblem) -> PlanProblem:
    """The problem without whatever makes one act wait for another."""
    return replace(
        problem,
        items=tuple(replace(item, hazard=item.hazard and item.mystery < 0) for item in problem.items),
        options=tuple(replace(option, after=()) for option in problem.options),
    )


def _stripped(inputs: PlanInputs, settings: Settings, layouts: Layouts) -> bool:
    if parts_only(inputs, settings):
        return True
    plans = solve_plans(layouts.plan_space(inputs.problem), parts_terms(inputs, settings))
    return plans.stops_at_once(0) and plans.stops_at_once(1)
