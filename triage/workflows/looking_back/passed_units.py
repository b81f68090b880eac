"""Units that the shop passed by, and what became of them where somebody learned it: the record's regret."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from triage.domain.job.file import JobFile
from triage.domain.money import from_minor
from triage.review.money.regret import PassedUnit


def passed_units(jobs: Iterable[JobFile], currency: str, as_of: date | None = None) -> tuple[PassedUnit, ...]:
    """What was asked for each declined unit, what was expected then, and what it came to elsewhere.

    What was learned last of a unit stands. A unit that was taken after all was
    not passed by; one in another currency cannot be set beside the others and
    is left out.

    Parameters
    ----------
    as_of : units declined after this day are left out.
    """
    return tuple(
        _passed(job)
        for job in jobs
        if job.state == "declined"
        and job.currency == currency
        and (as_of is None or job.moves[-1].record.on <= as_of)
    )


def _passed(job: JobFile) -> PassedUnit:
    answer = job.decisions[-1].record if job.decisions else None
    fate = job.later_fates[-1].record if job.later_fates else None
    ask = job.intake.record.ask_minor
    if answer and answer.price_minor is not None:
        ask = answer.price_minor

    def major(minor: int | None) -> float | None:
        return None if minor is None else from_minor(minor, job.currency)

    return PassedUnit(
        job.label,
        major(ask),
        major(answer.margin_minor) if answer else None,
        major(fate.margin_minor) if fate else None,
        fate.source if fate else "",
    )
