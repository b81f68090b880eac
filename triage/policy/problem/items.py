"""What is wrong with a unit as a plan problem's items and latent faults, and which repairs apply."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import ACCESS_LEVELS, Repair
from triage.domain.units.suspicion import battery_at_intake
from triage.domain.units.unit import Unit
from triage.policy.problem.books import Books
from triage.policy.problem.forecast import RepairForecast, UnitForecast
from triage.policy.problem.normalise import OPENED, access_level, repairable, unexplained_symptoms
from triage.policy.problem.parts.unit_parts import UNGRADED, harms_of, worst_harms
from triage.policy.problem.problem import Item, LatentFault


def plan_items(unit: Unit, forecast: UnitForecast, bench: Books) -> tuple[list[Item], list[LatentFault]]:
    """Seen and suspected findings, then hidden faults, then the causes of symptoms."""
    catalogue, scenarios = bench.catalogue, len(forecast.weights)
    battery = battery_at_intake(unit, catalogue)
    items: list[Item] = []
    latent_faults: list[LatentFault] = []
    for finding in repairable(unit, catalogue):
        if finding.seen:
            items.append(_item(catalogue, finding.kind))
        else:
            chance = np.full(scenarios, finding.chance)
            _suspect(items, latent_faults, catalogue, finding.kind, chance, suspected=True)
    traced = unexplained_symptoms(unit, catalogue)
    causes = {kind for symptom in traced for kind in forecast.causes[symptom]}
    on_unit = {finding.kind for finding in unit.findings}
    for kind, chance in forecast.hidden.items():
        looked_at = battery in ("sound", "absent") and catalogue.kinds[kind].battery == "hazard"
        if kind not in on_unit and kind not in causes and not looked_at:
            _suspect(items, latent_faults, catalogue, kind, chance)
    for symptom in traced:
        kinds = [k for k in forecast.causes[symptom] if catalogue.kinds[k].role == "repair"]
        shares = [forecast.causes[symptom][kind] for kind in kinds]
        place = len(latent_faults)
        for branch, kind in enumerate(kinds):
            items.append(_item(catalogue, kind, place, branch))
        # What no cause explains is found nowhere: nothing closes it.
        items.append(Item(f"unexplained {symptom}", True, False, place, len(kinds), unexplained=True))
        chance = np.tile(np.array([*shares, max(0.0, 1.0 - sum(shares))])[:, None], scenarios)
        access = ACCESS_LEVELS.index(catalogue.symptoms[symptom].access)
        latent_faults.append(LatentFault(symptom, chance, access, bench.settings.minutes.trace_cause))
    return items, latent_faults


def _item(catalogue: Catalogue, kind: str, latent_fault: int = -1, branch: int = -1) -> Item:
    entry = catalogue.kinds[kind]
    return Item(
        kind,
        entry.needed,
        entry.battery == "hazard",
        latent_fault,
        branch,
        spent=entry.discharged,
        liquid=entry.liquid and entry.needed,
    )


def with_harms(items: list[Item], latent_faults: list[LatentFault], unit: Unit, bench: Books) -> list[Item]:
    """Items with what each does to the parts of the unit.

    A cause of a symptom that is none of the known damage does as much as the worst of those.
    """
    severity = {finding.kind: finding.severity for finding in unit.findings}
    found = []
    for item in items:
        if item.unexplained:
            symptom = bench.catalogue.symptoms[latent_faults[item.latent_fault].key]
            known = [harm for kind in symptom.causes for harm in harms_of(bench.catalogue, kind, seen=False)]
            harms = worst_harms(known, item.key)
        else:
            harms = harms_of(
                bench.catalogue, item.key, severity.get(item.key, UNGRADED), item.latent_fault < 0
            )
        found.append(replace(item, harms=harms))
    return found


def _suspect(
    items: list[Item],
    latent_faults: list[LatentFault],
    catalogue: Catalogue,
    kind: str,
    chance: np.ndarray,
    suspected: bool = False,
) -> None:
    """Add a damage that may or may not be there; a bad cell shows as soon as the device is opened."""
    items.append(_item(catalogue, kind, len(latent_faults), 0))
    entry = catalogue.kinds[kind]
    access = OPENED if entry.battery == "hazard" else access_level(entry)
    both = np.stack([chance, 1.0 - chance])
    latent_faults.append(LatentFault(kind, both, access, None, entry.liquid and suspected))


def workable(unit: Unit, items: list[Item]) -> list[Item]:
    """Items that may be worked on: an owner who refused extra work beforehand is not surprised."""
    if unit.extra_work == "ask":
        return items
    named = {finding.kind for finding in unit.findings}
    return [item for item in items if item.latent_fault < 0 or item.key in named]


def offered_repairs(
    unit: Unit, items: list[Item], forecast: UnitForecast, catalogue: Catalogue
) -> list[Repair]:
    """Every repair that closes something on the unit and is not spoilt, in catalogue order."""
    keys = {item.key for item in items}
    wanted = {repair for kind, repair in forecast.repairs if kind in keys}
    seen = {finding.kind for finding in unit.findings if finding.seen}
    return [r for r in catalogue.repair if r.slug in wanted and not seen & set(r.spoilt_by)]


def lead_forecast(repair: Repair, items: list[Item], forecast: UnitForecast) -> RepairForecast:
    """Forecast of a repair for the finding that leads it: the first it closes that is on the unit."""
    keys = {item.key for item in items}
    lead = next(kind for kind in repair.closes if kind in keys)
    return forecast.repairs[lead, repair.slug]
