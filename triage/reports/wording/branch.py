"""A branch of the plan in words: when it is taken, how likely that is, and where it leads."""

from __future__ import annotations

from triage.domain.catalogue import Catalogue
from triage.domain.counts import in_twenty
from triage.domain.durations import bench_time
from triage.policy.answer.assessment import Branch, BranchEnd, PlanRoute, PlanStep, Then
from triage.reports.wording.plan import (
    CLOSING_WORDS,
    STOP_WORDS,
    cause_words,
    lower,
    lower_grade_words,
    result_words,
)

UNTOLD = "enter the result to plan the rest"
_LEAST_MINUTES = 0.5


def condition_words(branch: Branch, step: PlanStep, catalogue: Catalogue) -> str:
    """When a branch is taken, after its step."""
    if step.kind == "repair":
        return "If it fails"
    if step.kind == "check":
        return f"If the result is {result_words(step, catalogue, likely=False)}"
    if step.kind != "trace" and not branch.causes:
        return "If found" if branch.found else "If not found"
    named = "the cause" if step.kind == "trace" else "it"
    kinds = [cause_words(kind, catalogue) for kind in branch.causes if kind is not None]
    known = f"If {named} is {' or '.join(kinds)}" if kinds else ""
    if None not in branch.causes:
        return known
    return f"{known}, or none is found" if known else "If no cause is found"


def end_words(branch: Branch, step: PlanStep, route: PlanRoute) -> str:
    """Where a branch leads, after its own steps."""
    if branch.end is BranchEnd.UNTOLD:
        return UNTOLD
    if branch.end is BranchEnd.STOP:
        return STOP_WORDS[route]
    told = (
        lower(CLOSING_WORDS[route]) if branch.end is BranchEnd.FINISH else f"go on with step {branch.rejoins}"
    )
    lost = step.kind == "repair" and step.otherwise and step.otherwise.then in (Then.GO_ON, Then.FINISH)
    return told + (f"; {lower_grade_words(route)}" if lost and not branch.steps else "")


def ending_minutes(branch: Branch) -> str:
    """Bench time of what closes a job away from the likely way; "" where there is none."""
    minutes = sum(step.minutes for step in branch.ending)
    return bench_time(minutes) if minutes >= _LEAST_MINUTES else ""


def branch_figures(branch: Branch) -> str:
    """How likely a branch is; and its bench time, where it has no steps of its own to say it."""
    minutes = "" if branch.steps else ending_minutes(branch)
    return ", ".join(filter(None, (minutes, in_twenty(branch.chance))))
