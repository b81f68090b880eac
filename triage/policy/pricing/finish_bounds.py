"""Bounds without a plan: the least cost of finishing a device, and the greatest chance of it."""

from __future__ import annotations

import numpy as np

from triage.policy.problem.problem import PlanProblem


def parts_cost_more(problem: PlanProblem) -> bool:
    """Whether no repair is worth making for the parts it leaves when the unit is stripped later."""
    costs = _costs(problem, 0)
    return all(cost >= option.recovered for cost, option in zip(costs, problem.options, strict=True))


def least_spent(problem: PlanProblem) -> float | None:
    """Least money spent on finishing, even if every repair were to work; None where it cannot be finished.

    Every required damage that is seen is closed at the first try by its cheapest
    repair; one that closes several shares its cost among them.
    """
    costs, wanted = _costs(problem, 0), _wanted(problem)
    spent, access = 0.0, 0
    for item in wanted:
        closing = _closing(problem, item)
        if not closing:
            return None
        spent += min(costs[o] / len(wanted.intersection(problem.options[o].closes)) for o in closing)
        access = max(access, min(problem.options[o].access for o in closing))
    for level in range(access):
        spent += problem.access_minutes[level] * problem.rate + problem.access_extra[level]
    if problem.safety.battery == "suspect":
        spent += problem.safety.look * problem.rate
    return spent + min(problem.finish_minutes[1 if access else 0 :]) * problem.rate


def minutes_before_work(problem: PlanProblem) -> float:
    """Bench minutes before anything inside is repaired: opening, and the look at a suspect battery."""
    look = problem.safety.look if problem.safety.battery == "suspect" else 0.0
    return problem.access_minutes[0] + look


def gain_at_most(problem: PlanProblem, gain: np.ndarray) -> np.ndarray:
    """Most that anything can be expected to add over stripping at once, money, shape of `gain`.

    Where nothing is left to find out, a plan that tries anything either
    finishes or has paid for a try at least, whatever that leaves in parts. Where
    something is, it may stop on what it finds, having paid next to nothing.

    Parameters
    ----------
    problem : `parts_cost_more` holds of it, and stripping takes no less once it is opened.
    gain : what finishing would add, the `least_spent` taken off, money.
    """
    if problem.latent_faults:
        return gain
    chance = chance_finished_at_most(problem)
    tried = [
        min(fixed - option.recovered, failed)
        for option, fixed, failed in zip(problem.options, _costs(problem, 0), _costs(problem, 1), strict=True)
    ]
    return chance * gain - (1.0 - chance) * max(min(tried, default=0.0), 0.0)


def chance_finished_at_most(problem: PlanProblem) -> float:
    """A bound on the chance of closing every required damage that is seen.

    Each is closed unless every one of its repairs fails, on a first try or after
    another. Of damages that one repair may close together only the least likely counts.
    """
    groups: list[tuple[set[int], np.ndarray]] = []
    for item in sorted(_wanted(problem)):
        closing = set(_closing(problem, item))
        missed = np.ones(len(problem.weights))
        for place in closing:
            option = problem.options[place]
            missed *= 1.0 - np.max([option.chance, *option.chance_after.values()], axis=0)
        closed = 1.0 - missed
        for others, likely in [group for group in groups if group[0] & closing]:
            closing, closed = closing | others, np.minimum(closed, likely)
        groups = [group for group in groups if not group[0] & closing] + [(closing, closed)]
    every = np.prod([closed for _, closed in groups], axis=0) if groups else np.ones(len(problem.weights))
    return float(problem.weights @ every)


def _wanted(problem: PlanProblem) -> set[int]:
    return {index for index, item in enumerate(problem.items) if item.required and item.latent_fault < 0}


def _closing(problem: PlanProblem, item: int) -> list[int]:
    return [index for index, option in enumerate(problem.options) if item in option.closes]


def _costs(problem: PlanProblem, end: int) -> list[float]:
    """Money a try at each repair costs when it works (0) or fails (1)."""
    return [o.minutes[end] * problem.rate + o.parts[end] + o.extra[end] for o in problem.options]
