"""The verdicts in words, and the alternatives beside each: one row a way to go, the plan's own first."""

from __future__ import annotations

from triage.domain.counts import forecast_in_twenty, in_twenty, with_signs
from triage.domain.durations import bench_time
from triage.domain.money import money_text
from triage.policy.answer.assessment import Assessment, Route, Verdict
from triage.policy.pricing.ways import Way

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
WAYS_HEAD = ("alternative", "expected margin", "risk of loss", "bench time")
_WAYS = {
    "plan": "repair by the plan",
    "repair": "repair until one fails",
    "strip": "strip at once",
    "leave": "leave it",
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


def ways_title(assessment: Assessment) -> str:
    """Heading, with the price that the rows are for."""
    at = (
        "" if assessment.valued_at is None else f" at {money_text(assessment.valued_at, assessment.currency)}"
    )
    return f"Alternatives{at}"


def way_rows(assessment: Assessment) -> list[tuple[str, ...]]:
    """Cells under `WAYS_HEAD`, one row a way."""
    return [
        (
            _WAYS[way.kind],
            money_text(way.margin, assessment.currency, whole=True),
            _risk(way),
            bench_time(way.minutes) if way.minutes else "none",
        )
        for way in assessment.ways
    ]


def others_line(assessment: Assessment) -> str:
    """The ways but the plan's own, in one line; "" where there are none."""
    told = [
        f"{name}: {margin}, risk of loss {risk}"
        for way, (name, margin, risk, _) in zip(assessment.ways[1:], way_rows(assessment)[1:], strict=True)
        if way.kind != "leave"
    ]
    return f"Alternatives: {'; '.join([*told, 'leave it: no margin, no risk'])}" if told else ""


def _risk(way: Way) -> str:
    share = way.losses_in_20 / 20
    return with_signs(in_twenty(share) if way.kind == "leave" else forecast_in_twenty(share))
