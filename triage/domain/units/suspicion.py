"""What a unit as written says of its battery and of liquid, before anybody opens it.

A check result in hand is evidence whether or not a finding refers to it.
"""

from __future__ import annotations

from collections.abc import Iterator

from triage.domain.catalogue import Catalogue
from triage.domain.safety.facts import BATTERY_LOOK, DEFORMING, Battery, Liquid
from triage.domain.units.unit import Unit


def battery_at_intake(unit: Unit, catalogue: Catalogue) -> Battery:
    """The battery's state from what was said, found, measured and complained of."""
    if unit.battery in ("absent", "reacting"):
        return unit.battery
    results = latest_results(unit)
    kinds = [(finding, catalogue.kinds[finding.kind]) for finding in unit.findings if finding.chance > 0]
    look = results.get(BATTERY_LOOK) if BATTERY_LOOK in catalogue.checks else None
    seen_bad = any(finding.seen and kind.battery == "hazard" for finding, kind in kinds)
    if unit.battery == "hazard" or seen_bad or look:
        return "bad"
    # A cell that may be swollen, bent or pierced is looked at again, whatever was said of it.
    if any(kind.battery == "hazard" or kind.discharged for _, kind in kinds):
        return "suspect"
    if unit.battery == "sound" or look is False:
        return "sound"
    if unit.battery == "suspect" or unit.cause in DEFORMING or any(_suspicions(unit, catalogue)):
        return "suspect"
    return "no-sign"


def latest_results(unit: Unit) -> dict[str, bool]:
    """What each check in hand found: the newest result of it counts, of several as new the worse.

    A result without a date may be the newest, so it counts beside those that have one.
    """
    results: dict[str, bool] = {}
    for check in dict.fromkeys(reading.check for reading in unit.readings):
        made = [reading for reading in unit.readings if reading.check == check]
        newest = max((reading.on for reading in made if reading.on), default=None)
        results[check] = any(reading.found for reading in made if reading.on in (None, newest))
    return results


def _suspicions(unit: Unit, catalogue: Catalogue) -> Iterator[bool]:
    """Findings, symptoms and check results that a damaged cell may stand behind."""
    for finding in unit.findings:
        yield finding.chance > 0 and catalogue.kinds[finding.kind].battery != "none"
    for symptom in unit.symptoms:
        yield any(catalogue.kinds[kind].battery == "hazard" for kind in catalogue.symptoms[symptom].causes)
    for check, found in latest_results(unit).items():
        if found and check in catalogue.checks:
            shown = catalogue.checks[check].reveals
            yield any(catalogue.kinds[kind].battery != "none" for kind in shown if kind in catalogue.kinds)


def liquid_at_intake(unit: Unit, catalogue: Catalogue) -> Liquid:
    """Whether liquid is in the unit: a turned mark, a suspicion and a wet cause mean that it may be."""
    there = [
        (finding, catalogue.kinds[finding.kind])
        for finding in unit.findings
        if finding.chance > 0 and catalogue.kinds[finding.kind].liquid
    ]
    if any(finding.seen and kind.needed for finding, kind in there):
        return "wet"
    return "may-be-wet" if there or unit.cause == "wet" else "none"
