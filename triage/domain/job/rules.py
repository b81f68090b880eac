"""Which moves a job may make now: the table of its life, and what guards a move.

Every rule returns refusals in plain words, all at once; none means allowed. A
stop is a stop until somebody resolves it. Making safe, disposal and return
stay allowed whatever is open.
"""

from __future__ import annotations

from triage.domain.catalogue import Catalogue
from triage.domain.job.comebacks import remedy_refusals
from triage.domain.job.data.rules import not_ended
from triage.domain.job.file import JobFile
from triage.domain.job.final_check import standing
from triage.domain.job.life import MOVE_WORDS, STATE_WORDS, JobMove, WaitFor, moves_from
from triage.domain.job.owner_consent import take_in_refusals
from triage.domain.job.records import Intake, Stop

Refusals = tuple[str, ...]

# Moves that a stop, or a battery nobody has looked at, holds back.
HELD_BACK: tuple[JobMove, ...] = (
    "take", "start", "resume", "verify", "make-ready", "sell", "strip", "rework",
)  # fmt: skip


def move_refusals(
    file: JobFile,
    move: JobMove,
    catalogue: Catalogue,
    wait_for: WaitFor | None = None,
    accepted_failures: str = "",
) -> Refusals:
    """Why a job may not make a move now.

    Selling and returning have rules of their own besides: `job_ending.py`.

    Parameters
    ----------
    wait_for : what a waiting job waits for.
    accepted_failures : why the unit goes on although lines of its final check failed.
    """
    refused = list(table_refusals(file, move))
    if move in HELD_BACK:
        refused += held_back(file)
    if move == "wait" and wait_for is None:
        refused.append("choose what it waits for: a part, the owner's answer, a payment or a tool")
    if move == "take":
        refused += take_in_refusals(file)
    if move in ("verify", "make-ready"):
        refused += not_ended(file)
        check = standing(file, catalogue)
        names = {slug: catalogue.verifications[slug].name for slug in check.required}
        refused += [f"not tested yet: {names[slug]}" for slug in check.missing]
        if move == "verify" and not accepted_failures.strip():
            refused += [
                f"failed: {names[slug]}; repair it, or enter the reason to go on" for slug in check.failed
            ]
    if move in ("rework", "take-back", "send-back"):
        refused += remedy_refusals(file, move)
    return tuple(refused)


def table_refusals(file: JobFile, move: JobMove) -> Refusals:
    """Why the table of a job's life has no such move from where it is."""
    allowed = moves_from(file.state, file.route)
    if move in allowed:
        return ()
    choice = ", ".join(MOVE_WORDS[other].lower() for other in allowed) or "nothing"
    return (
        f'"{MOVE_WORDS[move]}" is not possible while the job is {STATE_WORDS[file.state]}; '
        f"possible now: {choice}",
    )


def held_back(file: JobFile) -> Refusals:
    """Open stops, and a battery that nobody has looked at: no work, no order, no sale."""
    refused = [f"stopped: {stop.record.reason}" for stop in file.open_stops if stop.record.about != "data"]
    return (*battery_refusals(file), *refused)


def data_stops(intake: Intake) -> tuple[Stop, ...]:
    """The stop that data raise which are wanted while there is no copy of them."""
    if intake.data != "wanted" or intake.backed_up == "yes":
        return ()
    return (Stop("data are wanted and not backed up: no heat on the board before they are saved", "data"),)


def battery_refusals(file: JobFile) -> Refusals:
    """The battery is inspected before anything else."""
    if file.intake.record.battery_looked_at:
        return ()
    return ("inspect the battery first, before anything else",)
