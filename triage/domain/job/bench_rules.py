"""What may be done on the bench, and recorded: checks, attempts, lines of the final check."""

from __future__ import annotations

from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import Check, Repair
from triage.domain.job.file import JobFile
from triage.domain.job.final_check import reading_refusals, repair_tried
from triage.domain.job.life import STATE_WORDS
from triage.domain.job.owner_consent import opening_refusals, work_refusals
from triage.domain.job.records import Attempt, CheckMade
from triage.domain.job.rules import Refusals, battery_refusals, held_back
from triage.domain.job.safety_facts import act_refusals

_CHECKING = ("considered", "taken", "in-work", "waiting", "came-back")
_TESTING = ("in-work", "verified", "ready", "uncollected")


def check_refusals(file: JobFile, made: CheckMade, catalogue: Catalogue) -> Refusals:
    """Why a check may not be made.

    A stop about the battery or the right to the unit is settled by looking, so
    only checks that do something to the unit wait for it.
    """
    check = catalogue.checks.get(made.check)
    if check is None:
        return (f"the catalogue has no check {made.check!r}",)
    refused = list(battery_refusals(file))
    if file.state not in _CHECKING:
        refused.append(f"no check is possible while the job is {STATE_WORDS[file.state]}")
    if file.state == "considered" and check.access != "closed":
        refused.append("accept the job before you open the device")
    for stop in file.open_stops:
        opens = check.access != "closed" and stop.record.about != "battery"
        if stop.record.about != "data" and (check.acts or opens):
            refused.append(f"stopped: {stop.record.reason}")
    refused += act_refusals(file, check_acts(check), catalogue, check.access)
    return (*refused, *(opening_refusals(file) if check.access != "closed" else ()))


def look_refusals(file: JobFile, found: tuple[str, ...], catalogue: Catalogue) -> Refusals:
    """Why a unit may not be opened and looked into, finding these damage kinds."""
    refused = [f"the catalogue has no damage {kind!r}" for kind in found if kind not in catalogue.kinds]
    if file.state not in ("taken", "in-work"):
        refused.append(f"the device cannot be opened while the job is {STATE_WORDS[file.state]}")
    return (*held_back(file), *refused, *opening_refusals(file))


def attempt_refusals(file: JobFile, attempt: Attempt, catalogue: Catalogue) -> Refusals:
    """Why an attempt on a damage may not be made or recorded.

    What was not attempted, and why, may always be recorded.
    """
    kind = catalogue.kinds.get(attempt.finding)
    repair = repair_tried(attempt, catalogue)
    refused = []
    if kind is None:
        refused.append(f"the catalogue has no damage {attempt.finding!r}")
    if attempt.method and repair is None:
        refused.append(f"the catalogue has no repair {attempt.method!r}")
    if kind and repair and kind.slug not in repair.closes:
        refused.append(f"{repair.name.lower()} does not repair {kind.name}")
    if attempt.round != file.round:
        refused.append(f"the job is in round {file.round}; an earlier round cannot change")
    if attempt.outcome == "not-attempted":
        return (
            tuple(refused)
            if attempt.why_not.strip()
            else (*refused, "choose the reason why it was not attempted")
        )
    if kind and repair is None and not attempt.method:
        refused.append(f"the catalogue has no repair for {kind.name}")
    if file.state != "in-work":
        refused.append(f"no work is possible while the job is {STATE_WORDS[file.state]}")
    refused += held_back(file)
    refused += _data_refusals(file, repair)
    refused += work_refusals(file, attempt.finding, catalogue)
    if repair:
        refused += act_refusals(file, repair_acts(repair), catalogue, repair.access)
    return tuple(refused)


def check_acts(check: Check) -> tuple[str, ...]:
    """What the hands do at a check, in the words of the safety rules."""
    return (*check.acts, *(("work",) if check.access != "closed" else ()))


def repair_acts(repair: Repair) -> tuple[str, ...]:
    """What the hands do at a repair, in the words of the safety rules."""
    return (*repair.acts, "work" if repair.access != "closed" else "closed-work")


def line_refusals(
    file: JobFile, slug: str, tapped: str, reading: float | None, unit: str, catalogue: Catalogue
) -> Refusals:
    """Why a line of the final check may not be recorded."""
    line = catalogue.verifications.get(slug)
    if line is None:
        return (f"the final check has no line {slug!r}",)
    refused = list(held_back(file))
    if file.state not in _TESTING:
        refused.append(f"no final check is possible while the job is {STATE_WORDS[file.state]}")
    if tapped == "pass":
        refused += act_refusals(file, ("test",), catalogue)
    return (*refused, *reading_refusals(line, tapped, reading, unit))


def _data_refusals(file: JobFile, repair: Repair | None) -> Refusals:
    """Wanted data are saved before heat reaches the board; a data job heats it to save them, as agreed."""
    if repair is None or not repair.board_heat or file.data_job is not None:
        return ()
    return tuple(f"stopped: {stop.record.reason}" for stop in file.open_stops if stop.record.about == "data")
