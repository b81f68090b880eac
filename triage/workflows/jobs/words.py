"""A job in words: what is to be done next, what it waits for, when it was promised."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from triage.domain.catalogue import Catalogue
from triage.domain.job.data.rules import copy_due, not_ended
from triage.domain.job.ending import held_until
from triage.domain.job.file import JobFile
from triage.domain.job.final_check import FinalCheck, standing, to_do_again
from triage.domain.job.life import ENDED, OPEN
from triage.domain.job.owner_consent import answer_overdue, unanswered
from triage.domain.job.part_orders import under_way
from triage.domain.job.rules import held_back
from triage.domain.shop.settings import Settings


@dataclass(frozen=True)
class JobWords:
    """One line of the list of jobs.

    next_act : what somebody at the bench does next; "" when nothing is left to do.
    waits_for : what it waits for; "" when for nothing.
    promised : day it was promised for. days_late : days past it, also of a job that
    is only considered; 0 when not late.
    """

    next_act: str
    waits_for: str
    promised: date | None
    days_late: int


def job_words(file: JobFile, catalogue: Catalogue, today: date, settings: Settings) -> JobWords:
    """Describe where a job stands."""
    promised = file.intake.record.promised_for
    late = (today - promised).days if promised and file.state in (*OPEN, "considered") else 0
    overdue = answer_overdue(file, today, settings)
    if overdue and file.state not in ("considered", "came-back"):
        act = f"no answer by {day(overdue, today)}: reassemble and return it"
        return JobWords(act, _waits_for(file, catalogue, today, settings), promised, max(late, 0))
    return JobWords(
        _next_act(file, catalogue, today),
        _waits_for(file, catalogue, today, settings),
        promised,
        max(late, 0),
    )


def day(when: date, today: date) -> str:
    """A day as a bench writes it: 3 Dec, with the year where it is not this one."""
    return f"{when.day} {when:%b}" + (f" {when.year}" if when.year != today.year else "")


def _next_act(file: JobFile, catalogue: Catalogue, today: date) -> str:
    if file.state in OPEN + ("considered",):
        if not file.intake.record.battery_looked_at:
            return "inspect the battery"
        if held_back(file):
            return "resolve the stop: " + "; ".join(s.record.reason for s in file.open_stops)
    if file.state == "in-work":
        return _bench_act(file, catalogue)
    due = copy_due(file)
    if due and file.state in ENDED:
        return f"erase our copy of the data by {day(due, today)}"
    if file.state == "came-back":
        remedy = file.comebacks[-1].record.remedy if file.comebacks else "open"
        return "choose a remedy" if remedy == "open" else f"complete the remedy: {remedy}"
    return {
        "considered": "decide: accept or decline it",
        "taken": "start work",
        "verified": "mark it as ready",
        "ready": "sell it" if file.route == "bought" else "return it",
    }.get(file.state, "")


def _bench_act(file: JobFile, catalogue: Catalogue) -> str:
    """What comes next at the bench: a repair opened again, then work, then the final check."""
    if file.data_job is not None:
        return (
            "save the data, then record what was saved"
            if not_ended(file)
            else _check_act(standing(file, catalogue))
        )
    again = to_do_again(file, catalogue)
    if again:
        names = (catalogue.repairs[slug].name.lower() for slug in again)
        return f"redo, final check failed: {', '.join(names)}"
    check = standing(file, catalogue)
    tried = {kept.record.finding for kept in file.attempts if kept.record.round == file.round}
    left = [catalogue.kinds[slug].name for slug in check.unfixed if slug not in tried]
    if left:
        return f"repair: {', '.join(left)}"
    return _check_act(check)


def _check_act(check: FinalCheck) -> str:
    if check.missing:
        lines = "1 line" if len(check.missing) == 1 else f"{len(check.missing)} lines"
        return f"final check: {lines} to do"
    if check.failed:
        return "a line of the final check failed: repair it, or enter the reason to go on"
    return "complete the final check"


def _waits_for(file: JobFile, catalogue: Catalogue, today: date, settings: Settings) -> str:
    if file.state == "uncollected":
        return "waits for its owner to collect it"
    asked = unanswered(file)
    asking = file.wait_for == "owner-answer" or file.state == "considered"
    if asked is not None and asking:
        due = asked.record.on + timedelta(days=settings.quoting.answer_days)
        return f"waits for the owner's answer to quote {asked.record.number}, due {day(due, today)}"
    if file.wait_for == "part":
        return f"waits for {_parts(file, catalogue, today)}"
    since, note = (file.moves[-1].record.on, file.moves[-1].record.note) if file.moves else (today, "")
    words = {"owner-answer": "the owner's answer", "payment": "a payment", "tool": note or "a tool"}
    if file.wait_for in words:
        return f"waits for {words[file.wait_for]}, since {day(since, today)}"
    until = held_until(file, settings.hold_days)
    if file.state == "ready" and until and today < until:
        return f"waits for the end of its holding period, {day(until, today)}"
    return ""


def _parts(file: JobFile, catalogue: Catalogue, today: date) -> str:
    said = []
    for kept in under_way(file):
        order = kept.record
        part = catalogue.parts.get(order.part)
        name = (part.plain or part.name) if part else order.part
        due = f", due {day(order.due, today)}" if order.due else ""
        said.append(f"the {name} from {order.source}{due}")
    return "; ".join(said) or "a part, but no part is on order"
