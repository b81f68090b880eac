"""A unit made ready for planning: one finding a kind, and what its state implies."""

from __future__ import annotations

from dataclasses import replace

from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import ACCESS_LEVELS, DamageKind
from triage.domain.units.suspicion import battery_at_intake, latest_results, liquid_at_intake
from triage.domain.units.unit import CheckResult, Finding, Unit

OPENED = ACCESS_LEVELS.index("opened")


def normalise(unit: Unit, catalogue: Catalogue) -> Unit:
    """Complete a unit, then count overlapping damage of one part once: as the worst of them.

    Only damage that is seen stands for a lesser one: where it is suspected, either may be there alone. It
    keeps its own severity, by which its repair was learned: a shattered glass makes a dead panel no deader.
    """
    unit = completed(unit, catalogue)
    kept = {finding.kind: finding for finding in unit.findings}
    covered = list(unit.covered)
    for finding in unit.findings:
        if finding.seen and finding.kind in kept:
            for lesser in catalogue.kinds[finding.kind].covers:
                if kept.pop(lesser, None) is not None:
                    covered.append((finding.kind, lesser))
    return replace(unit, findings=tuple(kept.values()), covered=tuple(covered))


def covered_words(unit: Unit, catalogue: Catalogue) -> list[str]:
    """A sentence for each damage that a worse one of the same part stands for."""
    kinds, severity = catalogue.kinds, {finding.kind: finding.severity for finding in unit.findings}
    return [
        f"{_upper(kinds[lesser].name)} is not counted apart: {kinds[kind].name}, severity {severity[kind]} "
        "of 3, stands for both."
        for kind, lesser in unit.covered
        if kind in severity
    ]


def completed(unit: Unit, catalogue: Catalogue) -> Unit:
    """Merge findings of one kind (the worse stands) and add what the battery state implies.

    A bad cell, where none is named; a cell to be fitted, where there is none in the device.

    All in the catalogue's order: the answer must not depend on the order of entry, not even through
    the random numbers of the simulated jobs.
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
    bad = [kind.slug for kind in catalogue.kind if kind.battery == "hazard"]
    told = [kind for kind in bad if not catalogue.kinds[kind].hidden]
    if battery_at_intake(unit, catalogue) == "bad" and told:
        # Said to be bad, or looked at and not sound, without a finding that says how.
        if not any(kind in by_kind and by_kind[kind].seen for kind in bad):
            by_kind[told[0]] = Finding(told[0], note="battery found bad")
    # Worn out or not there, the same new one is fitted.
    fitted = [
        k for repair in catalogue.repair if repair.new_battery for k in repair.closes if k in catalogue.kinds
    ]
    worn = [
        kind for kind in fitted if catalogue.kinds[kind].battery == "none" and catalogue.kinds[kind].needed
    ]
    if (
        unit.battery == "absent"
        and worn
        and not any(by_kind[kind].seen for kind in fitted if kind in by_kind)
    ):
        by_kind[worn[0]] = Finding(worn[0], severity=3, note="no battery in it")
    kinds, symptoms = list(catalogue.kinds), list(catalogue.symptoms)
    return replace(
        unit,
        findings=tuple(sorted(by_kind.values(), key=lambda finding: kinds.index(finding.kind))),
        symptoms=tuple(sorted(unit.symptoms, key=symptoms.index)),
        readings=tuple(CheckResult(check, found) for check, found in sorted(latest_results(unit).items())),
    )


def repairable(unit: Unit, catalogue: Catalogue) -> list[Finding]:
    """Findings that work can close, in the unit's order."""
    return [f for f in unit.findings if catalogue.kinds[f.kind].role == "repair"]


def unexplained_symptoms(unit: Unit, catalogue: Catalogue) -> list[str]:
    """Symptoms that no seen finding explains: these must be traced."""
    seen = {f.kind for f in unit.findings if f.seen} | {lesser for _, lesser in unit.covered}
    return [s for s in unit.symptoms if not seen & set(catalogue.symptoms[s].causes)]


def access_level(kind: DamageKind) -> int:
    """Access at which a kind that is not seen is settled by looking: never from outside."""
    return max(ACCESS_LEVELS.index(kind.seen_at), OPENED)


def cell_hazard(unit: Unit, catalogue: Catalogue) -> bool:
    """Whether a hazardous cell is known to be in the unit."""
    return battery_at_intake(unit, catalogue) == "bad"


def cell_suspect(unit: Unit, catalogue: Catalogue) -> bool:
    """Whether the battery must be treated as bad until it has been seen."""
    return battery_at_intake(unit, catalogue) in ("suspect", "bad")


def wet(unit: Unit, catalogue: Catalogue) -> bool:
    """Whether liquid has been in the unit, for sure or by suspicion."""
    return liquid_at_intake(unit, catalogue) != "none"


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]
