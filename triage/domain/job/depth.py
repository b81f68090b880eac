"""How deep a job was opened: only down to there can anyone say what is not in the device."""

from __future__ import annotations

from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import ACCESS_LEVELS
from triage.domain.job.file import JobFile


def depth_reached(file: JobFile, catalogue: Catalogue) -> int:
    """Deepest access level of looks, checks and work in the first life of a job; 0 where it stayed closed."""
    first = file.comebacks[0].id if file.comebacks else None
    looks = (kept.record for kept in file.looks if first is None or kept.id < first)
    reached = [ACCESS_LEVELS.index(look.depth or "opened") for look in looks]
    for made in file.checks:
        check = catalogue.checks.get(made.record.check)
        if check is not None and (first is None or made.id < first):
            reached.append(ACCESS_LEVELS.index(check.access))
    for tried in file.attempts:
        if tried.record.round == 0 and tried.record.outcome != "not-attempted":
            repair = catalogue.repairs.get(
                tried.record.method or catalogue.usual_method(tried.record.finding)
            )
            reached += [ACCESS_LEVELS.index(repair.access)] if repair is not None else []
    return max(reached, default=0)
