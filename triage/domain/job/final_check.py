"""The final check: which lines a job's repairs call for, and how it stands.

Lines come from the repairs that were done, and from what every opened or sold
unit needs. Nothing is preset to pass. A result counts only for the unit as it
is now: not from before the last try of a repair that calls for the line, not
from before the unit was opened again, not from before it came back.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import DamageKind, Repair, VerificationLine
from triage.domain.job.file import JobFile
from triage.domain.job.records import Attempt, Kept, LineChecked, LineResult

Standing = Literal["working", "downgraded", "unfixed"]


@dataclass(frozen=True)
class RequiredLine:
    """A line that this job must answer.

    repairs : repairs done that call for it; none for a line that is always asked.
    closed : whether it counts only once the unit has been closed again.
    since : id of the record after which a result must have been written.
    """

    line: VerificationLine
    repairs: tuple[str, ...]
    closed: bool
    since: int


@dataclass(frozen=True)
class FinalCheck:
    """How the final check stands, as slugs of lines in catalogue order.

    required : every line asked for; each is in exactly one of the next four.
    passed, failed : as they were last found. cannot : cannot be tested here.
    missing : not answered yet, or not since the unit was last worked on.
    unfixed : damage kinds that are still there.
    grade : what the unit may be called: "unfixed" with a needed damage still
        there, "downgraded" with anything less than all well, else "working".
    """

    required: tuple[str, ...]
    passed: tuple[str, ...]
    failed: tuple[str, ...]
    cannot: tuple[str, ...]
    missing: tuple[str, ...]
    unfixed: tuple[str, ...]
    grade: Standing

    @property
    def complete(self) -> bool:
        """Whether every line has an answer."""
        return not self.missing


def standing(file: JobFile, catalogue: Catalogue) -> FinalCheck:
    """Say how a job's final check stands."""
    needs = required_lines(file, catalogue)
    answers = {need.line.slug: _answer(file, need) for need in needs}

    def with_answer(answer: str) -> tuple[str, ...]:
        return tuple(slug for slug, given in answers.items() if given == answer)

    unfixed = unfixed_kinds(file, catalogue)
    grade: Standing = "working"
    if unfixed or len(with_answer("pass")) < len(answers):
        grade = "downgraded"
    if any(kind.needed for kind in unfixed):
        grade = "unfixed"
    return FinalCheck(
        tuple(answers),
        with_answer("pass"),
        with_answer("fail"),
        with_answer("cannot"),
        with_answer("missing"),
        tuple(kind.slug for kind in unfixed),
        grade,
    )


def required_lines(file: JobFile, catalogue: Catalogue) -> tuple[RequiredLine, ...]:
    """Lines that a job must answer before it is handed over, in catalogue order.

    A data job has lines of its own and no others, from its outcome on: nothing is repaired to be
    used, sealed or wiped.
    """
    if file.data_job is not None and file.state != "uncollected":
        since = max((kept.id for kept in file.data_ended), default=0)
        own = (line for line in catalogue.verification if line.always == "data")
        return tuple(RequiredLine(line, (), False, since) for line in own)
    done = {repair.slug: repair for _, repair in _tries(file, catalogue, ("fixed",))}
    last_try = {repair.slug: kept.id for kept, repair in _tries(file, catalogue)}
    opened, last_opened = was_opened(file, catalogue), _last_opened(file, catalogue)
    to_sell = file.route == "bought" or file.state == "uncollected"
    found = []
    for line in catalogue.verification:
        repairs = tuple(slug for slug, repair in done.items() if line.slug in repair.verify)
        always = (line.always == "opened" and opened) or (line.always == "sale" and to_sell)
        if not repairs and not always:
            continue
        callers = [tried for slug, tried in last_try.items() if line.slug in catalogue.repairs[slug].verify]
        closed = line.after_sealing and opened
        if closed or line.always == "opened":
            callers.append(last_opened)
        found.append(RequiredLine(line, repairs, closed, max(callers, default=0)))
    return tuple(found)


def unfixed_kinds(file: JobFile, catalogue: Catalogue) -> tuple[DamageKind, ...]:
    """Damage that work could close and has not: seen and not fixed, or tried last without success.

    What was only suspected and never tried is left to the final check.
    """
    last = {kept.record.finding: kept.record for kept, _ in _tries(file, catalogue)}
    seen = [kept.record.kind for kept in file.findings if kept.record.chance >= 1]
    seen += [kind for look in file.looks for kind in look.record.found.split(";") if kind]
    tried = [slug for slug, attempt in last.items() if attempt.outcome == "not-fixed"]
    kinds = [catalogue.kinds[slug] for slug in dict.fromkeys(seen + tried) if slug in catalogue.kinds]
    return tuple(
        kind
        for kind in kinds
        if kind.role == "repair" and (kind.slug not in last or last[kind.slug].outcome != "fixed")
    )


def was_opened(file: JobFile, catalogue: Catalogue) -> bool:
    """Whether the unit was ever open on this bench."""
    return _last_opened(file, catalogue) > 0


def to_do_again(file: JobFile, catalogue: Catalogue) -> dict[str, tuple[str, ...]]:
    """Repairs that a failed line opens again: repair slug -> failed lines it calls for."""
    failed = set(standing(file, catalogue).failed)
    again: dict[str, tuple[str, ...]] = {}
    for need in required_lines(file, catalogue):
        if need.line.slug in failed:
            for repair in need.repairs:
                again[repair] = (*again.get(repair, ()), need.line.slug)
    return again


def result_of(line: VerificationLine, tapped: LineResult, reading: float | None) -> LineChecked:
    """A line's result: from its reading where it has one, as tapped otherwise.

    A reading can only fail what was tapped as a pass, never pass what was
    tapped as a fail: the plug may drop out at a good current.
    """
    if tapped == "pass" and reading is not None and line.unit and not line.passes(reading):
        tapped = "fail"
    return LineChecked(line.slug, tapped, reading, line.unit if reading is not None else "")


def reading_refusals(
    line: VerificationLine, tapped: str, reading: float | None, unit: str
) -> tuple[str, ...]:
    """Why a result of a line may not be recorded."""
    if not line.unit:
        return (f"{line.name}: this line takes no reading",) if reading is not None else ()
    if reading is None:
        return (f"{line.name}: enter the reading in {line.unit}",) if tapped == "pass" else ()
    if unit != line.unit:
        return (f"{line.name}: the reading must be in {line.unit}, not {unit or 'without a unit'}",)
    return ()


def repair_tried(attempt: Attempt, catalogue: Catalogue) -> Repair | None:
    """Repair behind an attempt: its method, else the usual one; None where the catalogue has none."""
    return catalogue.repairs.get(attempt.method or catalogue.usual_method(attempt.finding))


def _tries(
    file: JobFile, catalogue: Catalogue, outcomes: tuple[str, ...] = ("fixed", "not-fixed")
) -> list[tuple[Kept[Attempt], Repair]]:
    """Work that was done on the unit, oldest first, with the repair it was."""
    tried = [kept for kept in file.attempts if kept.record.outcome in outcomes]
    found = [(kept, repair_tried(kept.record, catalogue)) for kept in tried]
    return [(kept, repair) for kept, repair in found if repair is not None]


def _last_opened(file: JobFile, catalogue: Catalogue) -> int:
    """Id of the last record that says the unit was open; 0 when none does."""
    known = catalogue.checks
    ids = [kept.id for kept, repair in _tries(file, catalogue) if repair.access != "closed"]
    ids += [kept.id for kept in file.looks]
    ids += [
        kept.id for kept in file.checks
        if kept.record.check in known and known[kept.record.check].access != "closed"
    ]  # fmt: skip
    # Whether or not it was open before, work that starts again opens it.
    again = [kept.id for kept in file.moves if kept.record.move in ("reopen", "rework")]
    return max(ids + again) if ids else 0


def _answer(file: JobFile, need: RequiredLine) -> str:
    """What the newest result that counts says; "missing" where there is none."""
    counting = [
        kept
        for kept in file.lines
        if kept.record.line == need.line.slug and kept.record.round == file.round and kept.id > need.since
    ]
    if not counting:
        return "missing"
    last = max(counting, key=lambda kept: kept.id).record
    return "missing" if last.result == "pass" and need.closed and not last.sealed else last.result
