"""Leaves items, options or latent faults out of a plan problem and renumbers the rest."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from triage.policy.problem.problem import PlanCheck, PlanProblem


def keep(
    problem: PlanProblem,
    items: Iterable[int] | None = None,
    options: Iterable[int] | None = None,
    latent_faults: Iterable[int] | None = None,
    checks: Iterable[int] | None = None,
) -> PlanProblem:
    """The problem with only the given indices of each; None keeps all.

    An item whose latent fault is left out counts as seen. An option that closes
    nothing any more must be left out by the caller.
    """
    item_at = _places(items, len(problem.items))
    option_at = _places(options, len(problem.options))
    latent_fault_at = _places(latent_faults, len(problem.latent_faults))
    kept_items = tuple(
        replace(item, latent_fault=latent_fault_at[item.latent_fault])
        if item.latent_fault in latent_fault_at
        else replace(item, latent_fault=-1, branch=-1)
        for index, item in enumerate(problem.items)
        if index in item_at
    )
    kept_options = tuple(
        replace(
            option,
            closes=tuple(item_at[i] for i in option.closes if i in item_at),
            after=tuple(option_at[i] for i in option.after if i in option_at),
            chance_after={option_at[i]: c for i, c in option.chance_after.items() if i in option_at},
        )
        for index, option in enumerate(problem.options)
        if index in option_at
    )
    kept_latent_faults = tuple(m for index, m in enumerate(problem.latent_faults) if index in latent_fault_at)
    return replace(
        problem,
        items=kept_items,
        options=kept_options,
        latent_faults=kept_latent_faults,
        checks=_checks(problem, latent_fault_at, _places(checks, len(problem.checks))),
    )


def unexplained(
    problem: PlanProblem, latent_fault: int, branches: Iterable[int]
) -> tuple[PlanProblem, list[int]]:
    """Count some causes of a symptom with what nothing explains: they are found nowhere, and not repaired.

    Returns
    -------
    problem, and the indices of the options that are left in it.
    """
    fault, dropped = problem.latent_faults[latent_fault], set(branches)
    kept = _places((b for b in range(len(fault.chance)) if b not in dropped), len(fault.chance))
    chance = fault.chance[list(kept)]
    chance[-1] += fault.chance[sorted(dropped)].sum(axis=0)

    def renumbered(reveals: tuple[tuple[int, int], ...]) -> tuple[tuple[int, int], ...]:
        return tuple(
            (m, kept[b] if m == latent_fault else b) for m, b in reveals if m != latent_fault or b in kept
        )

    left = [i for i, it in enumerate(problem.items) if it.latent_fault != latent_fault or it.branch in kept]
    options = [o for o, option in enumerate(problem.options) if set(option.closes) & set(left)]
    faults = list(problem.latent_faults)
    faults[latent_fault] = replace(fault, chance=chance)
    lumped = replace(
        problem,
        items=tuple(
            replace(it, branch=kept.get(it.branch, -1)) if it.latent_fault == latent_fault else it
            for it in problem.items
        ),
        latent_faults=tuple(faults),
        checks=tuple(replace(check, reveals=renumbered(check.reveals)) for check in problem.checks),
    )
    return keep(lumped, items=left, options=options), options


def settled(problem: PlanProblem, latent_fault: int, branch: int) -> tuple[float, PlanProblem]:
    """Chance of one branch of a latent fault, and the problem once it is known to hold.

    The scenarios are weighed anew by how likely each makes that branch.
    """
    likelihood = problem.weights * problem.latent_faults[latent_fault].chance[branch]
    chance = float(likelihood.sum())
    items = [
        i for i, it in enumerate(problem.items) if it.latent_fault != latent_fault or it.branch == branch
    ]
    options = [o for o, option in enumerate(problem.options) if set(option.closes) & set(items)]
    others = [m for m in range(len(problem.latent_faults)) if m != latent_fault]
    weights = likelihood / chance if chance > 0 else np.asarray(problem.weights)
    return chance, replace(keep(problem, items, options, others), weights=weights)


def _checks(
    problem: PlanProblem, latent_fault_at: dict[int, int], wanted: dict[int, int]
) -> tuple[PlanCheck, ...]:
    """Checks that still have something to reveal, renumbered."""
    useful = {
        index: tuple((latent_fault_at[m], branch) for m, branch in check.reveals if m in latent_fault_at)
        for index, check in enumerate(problem.checks)
    }
    kept = [index for index, reveals in useful.items() if reveals and index in wanted]
    place = _places(kept, len(problem.checks))
    return tuple(
        replace(
            problem.checks[index],
            reveals=useful[index],
            excludes=tuple(place[c] for c in problem.checks[index].excludes if c in place),
        )
        for index in place
    )


def _places(kept: Iterable[int] | None, count: int) -> dict[int, int]:
    """Old index to new."""
    return {old: new for new, old in enumerate(range(count) if kept is None else sorted(kept))}
