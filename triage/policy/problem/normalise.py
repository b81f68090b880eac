"""A unit made ready for planning: one finding a kind, and what its state implies."""

from __future__ import annotations

from dataclasses import replace

from triage.domain.catalogue import ACCESS_LEVELS, Catalogue, DamageKind
from triage.domain.units.unit import Finding, Unit

OPENED = ACCESS_LEVELS.index("opened")


def normalise(unit: Unit, catalogue: Catalogue) -> Unit:
    """Merge findings of one kind (the worse stands) and add the cell that the battery state implies.

    All in the catalogue's order: what was written down first must not sway the answer, not even by
    which of the simulated jobs it meets.
    """
    by_kind: dict[str, Finding] = {}
    for finding in unit.findings:
        held = by_kind.get(finding.kind)
        if held is None:
            by_kind[finding.kind] = finding
        else:
            absent = (1.0 - held.chance) * (1.0 - finding.chance)
            worse = max(held, finding, key=lambda f: (f.seen, f.severity))
            by_kind[finding.kind] = replace(worse, chance=1.0 if worse.seen else 1.0 - absent)
    hazards = [kind.slug for kind in catalogue.kind if kind.battery == "hazard" and not kind.hidden]
    if unit.battery == "hazard" and hazards and not any(by_kind.get(k) for k in hazards):
        by_kind[hazards[0]] = Finding(hazards[0], note="battery state given as hazard")
    kinds, symptoms = list(catalogue.kinds), list(catalogue.symptoms)
    return replace(
        unit,
        findings=tuple(sorted(by_kind.values(), key=lambda finding: kinds.index(finding.kind))),
        symptoms=tuple(sorted(unit.symptoms, key=symptoms.index)),
        readings=tuple(sorted(unit.readings, key=lambda reading: (reading.check, reading.found))),
    )


def repairable(unit: Unit, catalogue: Catalogue) -> list[Finding]:
    """Findings that work can close, in the unit's order."""
    return [f for f in unit.findings if catalogue.kinds[f.kind].role == "repair"]


def unexplained_symptoms(unit: Unit, catalogue: Catalogue) -> list[str]:
    """Symptoms that no seen finding explains: these must be traced."""
    seen = {f.kind for f in unit.findings if f.seen}
    return [s for s in unit.symptoms if not seen & set(catalogue.symptoms[s].causes)]


def access_level(kind: DamageKind) -> int:
    """Access at which a kind that is not seen is settled by looking: never from outside."""
    return max(ACCESS_LEVELS.index(kind.seen_at), OPENED)


def cell_hazard(unit: Unit, catalogue: Catalogue) -> bool:
    """Whether a hazardous cell is known to be in the unit."""
    return unit.battery == "hazard" or any(
        f.seen and catalogue.kinds[f.kind].battery == "hazard" for f in unit.findings
    )


def cell_suspect(unit: Unit, catalogue: Catalogue) -> bool:
    """Whether the battery must be treated as bad until it has been seen.

    A finding makes it so, and a symptom that a dangerous cell may cause: a
    lifted display, heat when idle.
    """
    if unit.battery == "sound":
        return False
    causes = [catalogue.kinds[kind] for s in unit.symptoms for kind in catalogue.symptoms[s].causes]
    return (
        unit.battery == "suspect"
        or any(catalogue.kinds[f.kind].battery != "none" for f in unit.findings)
        or any(cause.battery == "hazard" for cause in causes)
    )


def wet(unit: Unit, catalogue: Catalogue) -> bool:
    """Whether liquid has been in the unit, for sure or by suspicion."""
    return unit.cause == "wet" or any(catalogue.kinds[f.kind].liquid for f in unit.findings)
