"""The parts of a device that is stripped as it lies, in words: one row a part."""

from __future__ import annotations

from triage.domain.counts import in_twenty
from triage.domain.durations import bench_time
from triage.domain.money import money_text
from triage.policy.answer.assessment import Assessment, Take

PARTS_TITLE = "Parts worth taking out"
PARTS_HEAD = ("part", "good", "price if good", "bench time", "worth", "what to do")
PART_WORDS: dict[str, str] = {
    "main-board": "main board",
    "display": "display",
    "cameras": "cameras",
    "housing": "housing and frame",
    "rest": "all else, together",
}
TAKE_WORDS: dict[Take, str] = {
    "tested": "take out and test",
    "untested": "take out, sell untested",
    "leave": "not worth the minutes",
}


def part_rows(assessment: Assessment) -> list[tuple[str, ...]]:
    """Cells under `PARTS_HEAD`, one row a part; none where the price book has one value for all parts."""
    found, currency = assessment.stripped, assessment.currency
    if assessment.plan_route == "buy-locked":  # it may not be stripped at all
        found = None
    return [
        (
            PART_WORDS[each.part],
            in_twenty(each.good),
            money_text(each.price, currency),
            bench_time(each.minutes),
            money_text(each.worth, currency),
            TAKE_WORDS[each.take],
        )
        for each in (found.parts if found else ())
    ]


def strip_words(assessment: Assessment) -> str:
    """What the parts come to, and when they may be taken out."""
    found = assessment.stripped
    if found is None:
        return ""
    worth = money_text(found.worth, assessment.currency)
    words = f"Stripped as it lies: {worth} after fees, tax and bench time, before what you pay for it"
    words += f"; opening ({bench_time(found.minutes)}) counts once." if found.minutes > 0 else "."
    if assessment.right is not None:
        words += " Strip nothing before the right to sell it is settled."
    return words
