"""What a shop's jobs say of its checks: each result, and what the bench then found."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import fields

from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import Check
from triage.domain.job.depth import depth_reached
from triage.domain.job.file import JobFile
from triage.domain.job.life import ENDED
from triage.domain.shop.check_record import CheckRecord

_CELLS = tuple(item.name for item in fields(CheckRecord))


def check_records(jobs: Iterable[JobFile], catalogue: Catalogue) -> dict[str, CheckRecord]:
    """Count results by check and by what was found; checks that no job tells of are left out.

    A job counts once it is declined, ready or ended, with its last result before
    any work on what the check reveals. It counts not at all where some of that
    damage was recorded as certain before the check: then the result was known.
    The damage was there if it was worked on or found on a look inside. It was not
    if the job was opened deep enough to see all that the check reveals, or passed
    its final check, and none of it was found. Else the job never showed it.
    """
    counts: dict[str, Counter[str]] = {}
    for job in jobs:
        if not _over(job):
            continue
        for slug in dict.fromkeys(kept.record.check for kept in job.checks):
            check = catalogue.checks.get(slug)
            cell = "" if check is None else _cell(job, check, catalogue)
            if cell:
                counts.setdefault(slug, Counter())[cell] += 1
    return {slug: CheckRecord(**{cell: found[cell] for cell in _CELLS}) for slug, found in counts.items()}


def _over(job: JobFile) -> bool:
    return any(kept.record.state in ("declined", "ready", *ENDED) for kept in job.moves)


def _cell(job: JobFile, check: Check, catalogue: Catalogue) -> str:
    """The count that a job adds to; "" for none."""
    back = job.comebacks[0].id if job.comebacks else None
    worked = [
        kept for kept in job.attempts
        if kept.record.round == 0 and kept.record.outcome != "not-attempted"
        and kept.record.finding in check.reveals
    ]  # fmt: skip
    until = min((kept.id for kept in worked), default=back)
    results = [
        kept for kept in job.checks
        if kept.record.check == check.slug and (until is None or kept.id < until)
    ]  # fmt: skip
    if not results:
        return ""
    last = results[-1]
    known = any(
        kept.record.kind in check.reveals and kept.record.chance >= 1 and kept.id < last.id
        for kept in job.findings
    )
    if known:
        return ""
    looks = [kept for kept in job.looks if back is None or kept.id < back]
    found = {kind for kept in looks for kind in kept.record.found.split(";")} & set(check.reveals)
    named = any(kept.record.kind in check.reveals and kept.record.chance >= 1 for kept in job.findings)
    if worked or found:
        truth = "present"
    elif named or not _cleared(job, check, catalogue):
        truth = "unseen"  # said to be there and never worked on, or never looked for
    else:
        truth = "absent"
    return f"{'positive' if last.record.found else 'negative'}_{truth}"


def _cleared(job: JobFile, check: Check, catalogue: Catalogue) -> bool:
    """Whether the bench would have seen any damage that the check reveals."""
    passed = any(kept.record.state == "verified" for kept in job.moves)
    deepest = max((catalogue.kinds[kind].depth for kind in check.reveals), default=0)
    return passed or (bool(job.looks) and depth_reached(job, catalogue) >= deepest)
