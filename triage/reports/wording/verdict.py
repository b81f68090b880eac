"""The verdicts in words."""

from __future__ import annotations

from triage.domain.counts import in_twenty
from triage.policy.answer.assessment import Assessment, Route, Verdict

# Of a device that is for sale. JSON and CSV hold the verdict's own value, such as "take it".
VERDICT_WORDS = {
    Verdict.TAKE: "buy",
    Verdict.CHECK: "check first",
    Verdict.PARTS: "buy for parts",
    Verdict.LEAVE: "decline",
}
_ENDS = {
    "buy": ("ends up working", "ends in parts"),
    "walk-in": ("ends up working", "returned unrepaired"),
    "buy-locked": ("ends up working", "ends unrepaired, its lock not settled"),
}


def verdict_words(verdict: Verdict, route: Route) -> str:
    """A verdict within a sentence."""
    return "quote" if verdict is Verdict.TAKE and route == "walk-in" else VERDICT_WORDS[verdict]


def verdict_title(assessment: Assessment) -> str:
    """A verdict at the head of a line, with the likelier ending of a device that is taken."""
    words = verdict_words(assessment.verdict, assessment.route).capitalize()
    if assessment.verdict is not Verdict.TAKE:
        return words
    repaired = assessment.chance_finished
    well, badly = _ENDS[assessment.plan_route]
    end, chance = (well, repaired) if repaired >= 0.5 else (badly, 1 - repaired)
    return f"{words}: most likely {end} ({in_twenty(chance)})"
