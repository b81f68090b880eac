"""Which finding leads a repair on a unit, and what the repair closes for sure."""

from __future__ import annotations

from collections.abc import Iterator

from triage.domain.catalogue_entries import Repair
from triage.domain.units.unit import Unit


def lead_of(repair: Repair, severity: dict[str, int], seen: set[str]) -> str:
    """The first kind the repair closes among those seen, else among those that may be there."""
    closed = [kind for kind in repair.closes if kind in severity]
    return next((kind for kind in closed if kind in seen), closed[0])


def certainly_closed(unit: Unit, repair: Repair, lead: str) -> Iterator[str]:
    """The lead, and every other seen finding the repair closes."""
    yield lead
    for finding in unit.findings:
        if finding.seen and finding.kind != lead and finding.kind in repair.closes:
            yield finding.kind
