"""Units that come back: what for, what is done about it, and a new round of work."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from triage.domain.job.comebacks import comeback_refusals
from triage.domain.job.file import JobFile
from triage.domain.job.life import JobMove
from triage.domain.job.records import Comeback, Payment, Remedy
from triage.domain.job.rules import move_refusals
from triage.workflows.jobs.record_keeper import RecordKeeper, refuse


def come_back(keeper: RecordKeeper, job: int, version: int, comeback: Comeback) -> JobFile:
    """Record that a unit came back; what happened before stays as it was."""
    with keeper.changing(job, version) as change:
        refuse(
            [
                *move_refusals(change.file, "come-back", keeper.catalogue),
                *comeback_refusals(change.file, comeback),
            ]
        )
        change.append(comeback)
        change.move("come-back", comeback.on)
        return change.now()


def settle_comeback(
    keeper: RecordKeeper,
    job: int,
    version: int,
    on: date,
    remedy: Remedy,
    way: JobMove,
    refund_minor: int = 0,
    cost_minor: int | None = None,
) -> JobFile:
    """Decide what is done about a comeback, and go that way.

    Parameters
    ----------
    way : "rework", "take-back" or "send-back".
    refund_minor : money given back, 0 or more.
    """
    with keeper.changing(job, version) as change:
        refuse([] if change.file.comebacks else ["this job has no comeback"])
        kept = change.file.comebacks[-1]
        cost = kept.record.cost_minor if cost_minor is None else cost_minor
        settled = replace(kept.record, remedy=remedy, cost_minor=cost)
        decided = replace(change.file, comebacks=(*change.file.comebacks[:-1], replace(kept, record=settled)))
        refused = [*comeback_refusals(decided, settled), *move_refusals(decided, way, keeper.catalogue)]
        if refund_minor < 0:
            refused.append("enter a refund of 0 or more")
        refuse(refused)
        if settled != kept.record:
            change.writing.append(job, settled, replaces=kept.id, why="remedy chosen")
        if refund_minor:
            change.append(Payment("refund", -refund_minor, on))
        change.move(way, on)
        return change.now()
