"""A plan's steps in words: what is done, what if it fails, what is looked at first, where it stops."""

from __future__ import annotations

from triage.domain.catalogue import Catalogue
from triage.domain.counts import in_twenty
from triage.domain.durations import bench_time
from triage.policy.answer.assessment import (
    Assessment,
    Branch,
    BranchEnd,
    Otherwise,
    PlanRoute,
    PlanStep,
    Then,
    Verdict,
)
from triage.policy.problem.ownership import CHECK_FIRST, rule_on

_OWNERSHIP_ONLY = "ownership and activation lock; do nothing else until both are clear"
_RIGHT_WORDS = {
    "locked": "Check activation now that it works; if it is locked to somebody, stop and hand it back",
    "refused": "Do not strip it: hand it back, or hold it as local law says",
}
_OPEN_WET = "Open the device, disconnect the battery, look for liquid; clean and dry before any power"
_LOOKS = {"check", "look", "battery-look", "cell-look", "trace"}
STOP_WORDS: dict[PlanRoute, str] = {
    "buy": "stop and strip it for parts",
    "walk-in": "stop, reassemble it and return it",
    "buy-locked": "stop; do not strip it while its lock is not settled",
}
_FINISH: dict[PlanRoute, str] = {
    "buy": "finish it at a lower grade",
    "buy-locked": "finish it at a lower grade",
    "walk-in": "finish it; that repair is not charged",
}
# The steps after the work, and what they come to.
CLOSING = {"dry-fit", "close", "seal", "repeat-checks", "verify", "sell", "hand-back"}
CLOSING_WORDS: dict[PlanRoute, str] = {
    "buy": "Close it, check it and sell it",
    "walk-in": "Close it, check it and return it",
    "buy-locked": "Close it, check it, check activation and sell it",
}
_LOWER_GRADE: dict[PlanRoute, str] = {
    "buy": "it sells at a lower grade",
    "walk-in": "that repair is not charged",
    "buy-locked": "it sells at a lower grade",
}


def step_words(step: PlanStep, catalogue: Catalogue, carried: bool = True) -> str:
    """What a step is.

    Parameters
    ----------
    carried : name the parts that a repair moves over.
    """
    if step.kind == "repair":
        repair = catalogue.repairs[step.subject]
        moved = [catalogue.parts[part].name for part in step.moves if carried and part in catalogue.parts]
        return repair.name + (f"; transfer: {', '.join(moved)}" if moved else "")
    if step.kind == "check":
        return f"{_check_name(step, catalogue)}; likely result: {result_words(step, catalogue, likely=True)}"
    if step.kind == "trace":
        return _trace_words(step, catalogue)
    if step.kind in ("look", "cell-look"):
        return _look_words(step, catalogue) + ("; likely found" if step.found else "")
    if step.kind == "ownership" and step.subject in _RIGHT_WORDS:
        return _RIGHT_WORDS[step.subject]
    if step.kind == "open" and step.subject == "wet":
        return _OPEN_WET
    shared = catalogue.steps.get(step.kind)
    return shared.name if shared else step.kind.replace("-", " ")


def short_words(step: PlanStep, catalogue: Catalogue) -> str:
    """What a step is, where several share a line."""
    if step.kind == "trace":
        return _traced(step, catalogue)
    if step.kind == "check":
        return catalogue.checks[step.subject].name
    return step_words(step, catalogue, carried=False)


def if_not_words(step: PlanStep, catalogue: Catalogue, route: PlanRoute) -> str:
    """What happens when a step does not go as planned; "" where nothing can go wrong."""
    otherwise = step.otherwise
    if otherwise is None:
        return ""
    if step.kind == "repair":
        return _when_failed(otherwise, catalogue, route)
    if step.kind == "trace":
        stops_for = ", ".join(cause_words(kind, catalogue) for kind in otherwise.stops_for)
        return "any other cause: repair that instead" + (
            f"; {stops_for}: {STOP_WORDS[route]}" if stops_for else ""
        )
    held = (
        f"if the result is {result_words(step, catalogue, likely=False)}"
        if step.kind == "check"
        else "if found"
    )
    count = "" if otherwise.chance is None else f" ({in_twenty(otherwise.chance)})"
    return f"{held}{count}: {_deed(otherwise, catalogue, route)}"


def otherwise_words(step: PlanStep, catalogue: Catalogue, route: PlanRoute) -> str:
    """The same as a line of its own; a look says by itself when it holds."""
    words = if_not_words(step, catalogue, route)
    return upper(f"if it fails: {words}" if words and step.kind == "repair" else words)


def lower_grade_words(route: PlanRoute) -> str:
    """What it means that a repair failed without which the device can be finished."""
    return _LOWER_GRADE[route]


def stop_words(assessment: Assessment, catalogue: Catalogue, further: bool = True) -> str:
    """Where the plan stops, in one line.

    Parameters
    ----------
    further : name the other stop points too; without, they are marked at their steps.
    """
    route = assessment.plan_route
    if not assessment.steps or assessment.steps[0].kind == "isolate":
        return "do not start"
    if assessment.stops_at_once:
        if route == "walk-in":
            return "before any repair; return it unrepaired"
        return "before any repair; " + (
            "strip it for parts" if assessment.limit else "no repair is worth its cost"
        )
    if assessment.verdict is Verdict.LEAVE:
        return "do not start" if assessment.limit is None else "do not start at this price"
    if assessment.verdict is Verdict.CHECK:
        return "before any repair, until the result is known"
    step = next((step for step in assessment.steps if step.stop_point), None)
    if step is None:
        return _branch_stops(assessment)
    return _stop_at(step, catalogue, route) + (_more_stops(assessment, step) if further else "")


def _stop_at(step: PlanStep, catalogue: Catalogue, route: PlanRoute) -> str:
    """One stop point of the likely path."""
    then = if_not_words(step, catalogue, route)
    if step.kind == "repair":
        return f"{catalogue.repairs[step.subject].name}: if it fails, {then}"
    if step.kind == "check":
        return f"{_check_name(step, catalogue)}: {then}"
    if step.kind == "trace":
        return f"{_traced(step, catalogue)}. {upper(then)}"
    return f"{_looked_for(step, catalogue)}: {then}"


def stop_condition(step: PlanStep) -> str:
    """In two or three words, when a step is a stop point."""
    return {"repair": "if it fails", "trace": "for some causes", "check": "by its result"}.get(
        step.kind, "if found"
    )


def _more_stops(assessment: Assessment, first: PlanStep) -> str:
    """Where else the plan stops, by the numbers of its steps."""
    numbers = [
        str(number)
        for number, step in enumerate(assessment.steps, start=1)
        if step is not first and (step.stop_point or any(map(_stops, step.branches)))
    ]
    if not numbers:
        return ""
    last = f"{', '.join(numbers[:-1])} and {numbers[-1]}" if numbers[1:] else numbers[0]
    return f". Further stop point{'s: steps' if numbers[1:] else ': step'} {last}"


def _branch_stops(assessment: Assessment) -> str:
    """Stop points of a plan whose likely path has none: in the branches after which steps."""
    told = [
        f"step {number}"
        for number, step in enumerate(assessment.steps, start=1)
        if any(_stops(branch) for branch in step.branches)
    ]
    if told:
        return f"in a branch after {' and after '.join(told)}"
    if any(branch.end is BranchEnd.UNTOLD for step in assessment.steps for branch in step.branches):
        return "none on the likely path"
    return "none; if a step fails, take the next one"


def _stops(branch: Branch) -> bool:
    return branch.end is BranchEnd.STOP or any(step.stop_point for step in branch.steps)


def first_check_words(assessment: Assessment, catalogue: Catalogue) -> str:
    """What to look at or measure first; battery safety, ownership and the activation lock come before."""
    if assessment.verdict is Verdict.LEAVE and assessment.expected_margin is not None:
        if assessment.route == "walk-in":
            return "none; do not accept it"
        return "none; do not buy it" + (" at this price" if assessment.limit is not None else "")
    buying = assessment.route == "buy"
    if buying and rule_on(assessment.unit, catalogue, buying).standing == CHECK_FIRST:
        return _OWNERSHIP_ONLY
    if assessment.checks:
        check = assessment.checks[0]
        return f"{check.name} ({bench_time(check.minutes)}); then decide"
    look = next((step for step in assessment.steps if step.kind in _LOOKS), None)
    if look is not None:
        if look.kind == "check":
            return _check_name(look, catalogue)
        plain = look.kind in ("trace", "battery-look") or look.final_test
        return step_words(look, catalogue) if plain else _looked_for(look, catalogue)
    if assessment.steps and assessment.steps[0].kind == "isolate":
        return "none; do not open it"
    if assessment.steps and assessment.steps[0].kind == "make-safe":
        return "make the battery safe; then check ownership and the activation lock"
    if any(step.kind == "open" and step.subject == "wet" for step in assessment.steps):
        return "ownership and activation lock; then, once open, liquid under the shields"
    if assessment.steps:
        return "ownership and activation lock; no other check is worth its cost"
    return _OWNERSHIP_ONLY


def _when_failed(otherwise: Otherwise, catalogue: Catalogue, route: PlanRoute) -> str:
    """What follows when a repair has failed."""
    if otherwise.then is Then.REPAIR:
        return lower(catalogue.repairs[otherwise.repair].name)
    if otherwise.then is Then.GO_ON:
        return f"go on; {_LOWER_GRADE[route]}"
    return (STOP_WORDS if otherwise.then is Then.STOP else _FINISH)[route]


def _deed(otherwise: Otherwise, catalogue: Catalogue, route: PlanRoute) -> str:
    """What is done next when a look or a check came out the other way."""
    if otherwise.then is Then.REPAIR:
        return lower(catalogue.repairs[otherwise.repair].name)
    return STOP_WORDS[route] if otherwise.then is Then.STOP else "go on"


def _check_name(step: PlanStep, catalogue: Catalogue) -> str:
    check = catalogue.checks[step.subject]
    return (
        f"{check.name} (needs a known-good {catalogue.parts[check.needs_part].name})"
        if check.needs_part
        else check.name
    )


def result_words(step: PlanStep, catalogue: Catalogue, likely: bool) -> str:
    """A check's likelier result, or the other one; the positive one comes first in the catalogue."""
    positive, negative = catalogue.checks[step.subject].result_words
    return positive if step.found == likely else negative


def _look_words(step: PlanStep, catalogue: Catalogue) -> str:
    return f"{'Test before closing' if step.final_test else 'Look'} for: {_looked_for(step, catalogue)}"


def _looked_for(step: PlanStep, catalogue: Catalogue) -> str:
    return catalogue.kinds[step.subject].name


def _traced(step: PlanStep, catalogue: Catalogue) -> str:
    return f'Find the cause of "{catalogue.symptoms[step.subject].name}"'


def _trace_words(step: PlanStep, catalogue: Catalogue) -> str:
    """The likeliest cause, where branches name the others; else the first few by chance."""
    likely = [one for one in step.causes if one.kind == step.cause]
    if step.branches and likely:
        cause, chance = cause_words(step.cause, catalogue), in_twenty(likely[0].chance)
        return f"{_traced(step, catalogue)}: most likely {cause}, {chance} at this step"
    told = ", ".join(f"{cause_words(one.kind, catalogue)} {in_twenty(one.chance)}" for one in step.causes)
    first = f"{_traced(step, catalogue)} (chances at this step): {told}"
    return f"{first}. The next steps are for {cause_words(step.cause, catalogue)}"


def cause_words(kind: str | None, catalogue: Catalogue) -> str:
    """A possible cause of a symptom."""
    return "no cause found" if kind is None else catalogue.kinds[kind].name


def upper(text: str) -> str:
    """A text at the head of a line."""
    return text[:1].upper() + text[1:]


def lower(text: str) -> str:
    """A text within a sentence."""
    return text[:1].lower() + text[1:]
