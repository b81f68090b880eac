"""Whether stripping at once is best whatever is wrong with a device.

Unknown faults make most of a plan's states. Here perfect information is free:
for each combination of faults the plan is solved as if it were known from the
start, with no repair waiting for another and no battery in the way. This is a
relaxation, so its expected margin is an upper bound for the device as it is. If
stripping at once is best for every combination, it is best now and after any
check, and no plan is needed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import product

import numpy as np

from triage.arrays import Floats
from triage.domain.safety.rules import Rules
from triage.domain.shop.settings import Settings
from triage.errors import PlanTooLargeError
from triage.policy.pricing.salvage import parts_only, parts_terms
from triage.policy.problem.build import PlanInputs, with_problem
from triage.policy.problem.payoffs import PurchaseTerms
from triage.policy.problem.problem import PlanProblem, Safety
from triage.policy.problem.subproblem import keep
from triage.policy.solver.layout_cache import Layouts
from triage.policy.solver.repair_plan import solve_plans

# With more ways than this, planning the unit costs less than looking at each.
MOST_TRUTHS = 64


def parts_whatever(inputs: PlanInputs, settings: Settings, layouts: Layouts) -> bool:
    """Whether stripping at once is best whatever is found and whatever is paid.

    False where that is not proved: the plan may still be to strip. It is not proved of a unit whose
    parts are valued one by one.
    """
    if inputs.problem.parts:
        return False
    terms = parts_terms(inputs, settings)
    if parts_only(inputs, settings, terms):
        return True
    truths = np.prod([len(latent_fault.chance) for latent_fault in inputs.problem.latent_faults])
    if not 1 < truths <= MOST_TRUTHS:  # with nothing to find out, the plan itself is as quick
        return False
    try:
        return all(
            _stripped(with_problem(inputs, known, options), settings, terms, layouts)
            for _, known, options in known_truths(inputs.problem)
        )
    except PlanTooLargeError:
        return False


def known_truths(problem: PlanProblem) -> Iterator[tuple[float, PlanProblem, list[int]]]:
    """Every truth that can be, the one with least wrong first.

    Yields
    ------
    chance : of that truth, given the check results in hand.
    problem : with the truth known from the start, and nothing made to wait.
    options : which of the options are left in it.
    """
    total = sum(float(_weights(problem, truth).sum()) for truth in _truths(problem))
    free = _unbound(problem)
    for truth in _truths(problem):
        weights = _weights(problem, truth)
        chance = float(weights.sum())
        if chance > 0:
            items = [
                place
                for place, item in enumerate(problem.items)
                if item.latent_fault < 0 or truth[item.latent_fault] == item.branch
            ]
            options = [o for o, option in enumerate(problem.options) if set(option.closes) & set(items)]
            left = keep(free, items, options, latent_faults=())
            yield chance / total, replace(left, weights=weights / chance), options


def _truths(problem: PlanProblem) -> Iterator[tuple[int, ...]]:
    """One branch a latent fault; a thing that is not there is the last branch of its own."""
    return product(*(range(len(latent_fault.chance))[::-1] for latent_fault in problem.latent_faults))


def _weights(problem: PlanProblem, truth: tuple[int, ...]) -> np.ndarray:
    """Weight of each scenario together with a truth and with the check results in hand."""
    weights = np.array(problem.weights)
    for latent_fault, branch in zip(problem.latent_faults, truth, strict=True):
        weights *= latent_fault.chance[branch]
    for check in problem.checks:
        if check.result is not None:
            shown = any(truth[latent_fault] == branch for latent_fault, branch in check.reveals)
            positive = check.sensitivity if shown else 1.0 - check.specificity
            weights *= positive if check.result else 1.0 - positive
    return weights


def _unbound(problem: PlanProblem) -> PlanProblem:
    """The problem without the constraints that make one act wait for another."""
    in_doubt = problem.safety.look if problem.safety.battery == "suspect" else 0.0
    return replace(
        problem,
        stop_minutes=(problem.stop_minutes[0], problem.stop_minutes[1] + in_doubt),
        items=tuple(replace(item, hazard=False) for item in problem.items),
        options=tuple(replace(option, after=()) for option in problem.options),
        safety=Safety(rules=Rules(())),
    )


def _stripped(inputs: PlanInputs, settings: Settings, terms: PurchaseTerms[Floats], layouts: Layouts) -> bool:
    if parts_only(inputs, settings, terms):
        return True
    plans = solve_plans(layouts.plan_space(inputs.problem), terms)
    return plans.stops_at_once(0) and plans.stops_at_once(1)
