"""Work on the bench: checks, looks inside, attempts, and the lines of the final check."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from triage.domain.job.bench_rules import attempt_refusals, check_refusals, line_refusals, look_refusals
from triage.domain.job.file import JobFile
from triage.domain.job.final_check import result_of
from triage.domain.job.records import Attempt, CheckMade, FoundDamage, LineResult, LookDepth, LookedInside
from triage.workflows.jobs.intake import write_damage
from triage.workflows.jobs.record_keeper import RecordKeeper, refuse


def make_check(keeper: RecordKeeper, job: int, version: int, made: CheckMade) -> JobFile:
    """Record a check and what it said."""
    with keeper.changing(job, version) as change:
        refuse(check_refusals(change.file, made, keeper.catalogue))
        change.append(made)
        return change.now()


def look_inside(
    keeper: RecordKeeper,
    job: int,
    version: int,
    found: tuple[str, ...] = (),
    depth: LookDepth | None = None,
    suspected: bool | None = None,
) -> JobFile:
    """Record what opening brought to light; hidden faults found stand among the damage too.

    depth, suspected : as in `LookedInside`.
    """
    with keeper.changing(job, version) as change:
        refuse(look_refusals(change.file, found, keeper.catalogue))
        change.append(LookedInside(";".join(found), depth, suspected))
        known = {kept.record.kind for kept in change.file.findings}
        for kind in found:
            if kind not in known:
                write_damage(change, FoundDamage(kind, known_at="opening"))
        return change.now()


def attempt(keeper: RecordKeeper, job: int, version: int, *tries: Attempt) -> JobFile:
    """Record work on one damage, or on several that one repair closes; the round is the job's."""
    with keeper.changing(job, version) as change:
        now = [replace(tried, round=change.file.round) for tried in tries]
        refuse(reason for tried in now for reason in attempt_refusals(change.file, tried, keeper.catalogue))
        for tried in now:
            change.append(tried)
        return change.now()


def check_line(
    keeper: RecordKeeper,
    job: int,
    version: int,
    line: str,
    tapped: LineResult,
    on: date,
    reading: float | None = None,
    unit: str = "",
    sealed: bool = False,
    note: str = "",
) -> JobFile:
    """Answer one line of the final check; a fail on a unit that was done opens the job again.

    Parameters
    ----------
    tapped : "pass", "fail" or "cannot". A measured line passes by its reading.
    sealed : the unit was closed when this was checked.
    """
    with keeper.changing(job, version) as change:
        refuse(line_refusals(change.file, line, tapped, reading, unit, keeper.catalogue))
        result = result_of(keeper.catalogue.verifications[line], tapped, reading)
        change.append(replace(result, sealed=sealed, round=change.file.round, note=note))
        if result.result == "fail" and change.file.state in ("verified", "ready"):
            change.move("reopen", on, note=f"failed: {keeper.catalogue.verifications[line].name}")
        return change.now()
