"""What is known of a unit's battery and of liquid in it, as a plan problem carries it."""

from __future__ import annotations

import numpy as np

from triage.arrays import Floats
from triage.domain.safety.facts import BATTERY, Facts
from triage.domain.units.suspicion import battery_at_intake, liquid_at_intake
from triage.domain.units.unit import Unit
from triage.policy.problem.books import Books
from triage.policy.problem.problem import Item, LatentFault, PlanProblem, Safety


def plan_safety(unit: Unit, bench: Books) -> Safety:
    """Battery and liquid as the unit was described, and what keeping safe takes at this bench."""
    minutes = bench.settings.minutes
    return Safety(
        battery_at_intake(unit, bench.catalogue),
        liquid_at_intake(unit, bench.catalogue),
        minutes.careful_look,
        minutes.make_safe,
        minutes.battery_out,
        bench.rules,
    )


def minutes_in_doubt(
    safety: Safety, items: list[Item], latent_faults: list[LatentFault], weights: Floats
) -> float:
    """What stripping a unit as it lies takes on top where its battery is suspect, bench minutes.

    Its battery comes out first: the careful opening and the look, and making it
    safe as often as it turns out bad by what is known before any check.
    """
    if safety.battery != "suspect":
        return 0.0
    sound = np.ones_like(weights)
    for place, latent_fault in enumerate(latent_faults):
        bad = [item.branch for item in items if item.latent_fault == place and item.hazard]
        sound = sound * (1.0 - latent_fault.chance[bad].sum(axis=0))
    return safety.look + (1.0 - float(weights @ sound)) * safety.make_safe


def bad_branches(problem: PlanProblem) -> list[list[int]]:
    """Branches of each latent fault that are a bad cell."""
    return [
        [item.branch for item in problem.items if item.latent_fault == place and item.hazard]
        for place in range(len(problem.latent_faults))
    ]


def looked_apart(problem: PlanProblem) -> list[bool]:
    """Whether the look at a suspect battery settles a part of a latent fault: is its cause a bad cell.

    A symptom's other causes are still to be traced then; the local state after
    the last branch stands for "not the battery".
    """
    in_doubt = problem.safety.battery == "suspect"
    return [
        in_doubt and bool(bad) and latent_fault.trace_minutes is not None
        for bad, latent_fault in zip(bad_branches(problem), problem.latent_faults, strict=True)
    ]


def wants_battery_out(problem: PlanProblem, acts: frozenset[str]) -> bool:
    """Whether some acts are allowed with a sound battery out of the device and not with it fitted."""
    rules, opened = problem.safety.rules, np.asarray(1)
    fitted, out = (
        Facts(np.asarray(BATTERY.index(word)), np.asarray(0), opened) for word in ("sound", "out-sound")
    )
    return bool(rules.allow(acts, out)) and not bool(rules.allow(acts, fitted))


def tracks_battery(problem: PlanProblem) -> bool:
    """Whether the states carry a digit of their own for the battery."""
    if problem.safety.battery in ("suspect", "bad") or any(item.hazard for item in problem.items):
        return True
    made = [option.acts for option in problem.options] + [check.acts for check in problem.checks]
    return any(wants_battery_out(problem, acts) for acts in made)
