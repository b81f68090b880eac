"""What is known of a unit's battery and of liquid in it, as a plan problem carries it."""

from __future__ import annotations

import numpy as np

from triage.arrays import Floats
from triage.domain.units.suspicion import battery_at_intake, liquid_at_intake
from triage.domain.units.unit import Unit
from triage.policy.problem.books import Books
from triage.policy.problem.problem import Item, LatentFault, Safety


def plan_safety(unit: Unit, bench: Books) -> Safety:
    """Battery and liquid as the unit was written down, and what keeping safe takes at this bench."""
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
