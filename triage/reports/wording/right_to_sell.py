"""The open questions about the right to sell a device, in words."""

from __future__ import annotations

from triage.domain.counts import in_twenty
from triage.domain.durations import bench_time
from triage.domain.money import money_text
from triage.policy.answer.assessment import Assessment
from triage.policy.answer.right_answer import RightQuestion
from triage.policy.problem.open_right import Settled, Topic, Way

TITLE = "Right to sell: open questions"
HEADINGS = ("Question", "Chance clear", "Time", "Worth settling first", "How to settle it")
_TOPICS: dict[Topic, str] = {
    "listed": "Block list",
    "locked": "Activation lock",
    "enrolled": "Management, finance",
    "later": "Listed later",
}
_WAYS: dict[Way, str] = {
    "number-check": "check serial number and IMEI against the lists",
    "boot-check": "start it and check activation",
    "sign-off": "the seller signs out of it in person",
    "enrolment-check": "check the management and finance registers; get a written release",
    "none": "nobody can settle this",
}
_WHEN: dict[Settled, str] = {
    "before-paying": "",
    "on-arrival": "only once it is here",
    "once-it-works": "only once it works",
    "never": "",
}
LAW = "Local law decides who may buy, hold or return it. Only its owner may take a lock off."


def question_rows(assessment: Assessment) -> list[tuple[str, ...]]:
    """One row a question, in the order of `HEADINGS`; none where nothing is open."""
    right = assessment.right
    return [_row(one, assessment.currency) for one in right.questions] if right else []


def right_words(assessment: Assessment) -> str:
    """How likely the right is clear, what a refusal leaves, and what may not be done until then."""
    right = assessment.right
    if right is None:
        return ""
    back = "nothing" if not right.price_back else f"{100 * right.price_back:.0f} % of the price"
    words = [
        f"Clear in {in_twenty(right.clear)} such devices. If it is refused, the supplier pays back {back}.",
        "Until it is settled: no stripping and no sale.",
    ]
    if right.bars_stripping:
        words.append("Its lock can only be settled once it works, so no parts value is counted.")
    return " ".join((*words, LAW))


def _row(one: RightQuestion, currency: str) -> tuple[str, ...]:
    fee = f", {money_text(one.fee, currency)}" if one.fee else ""
    when = f" ({_WHEN[one.settled]})" if _WHEN[one.settled] else ""
    return (
        _TOPICS[one.topic],
        in_twenty(one.clear),
        f"{bench_time(one.minutes)}{fee}" if one.minutes or one.fee else "",
        "" if one.worth is None else money_text(one.worth, currency),
        _WAYS[one.way] + when,
    )
