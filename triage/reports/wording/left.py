"""What stays broken on a finished device, in words: plan, page and terminal say the same."""

from __future__ import annotations

from triage.domain.counts import in_twenty
from triage.domain.money import money_text
from triage.policy.answer.assessment import Assessment, Left

LEFT_UNREPAIRED = "Left unrepaired"
_WHY = {
    "no-repair": "no repair offered",
    "not-worth": "no repair is worth its cost",
    "too-complex": "left out of a plan too complex to weigh",
}
_OFF = {"buy": "off the sale price", "walk-in": "off what the owner pays"}


def left_line(assessment: Assessment, reasons: bool = True) -> str:
    """All that stays broken, in one line, and why; "" where nothing does."""
    words = [left_words(one, assessment) if reasons else one.name for one in assessment.left]
    return f"{LEFT_UNREPAIRED}: {'; '.join(words)}." if words else ""


def left_words(left: Left, assessment: Assessment) -> str:
    """One damage that stays: why, how often, and what it takes off the price."""
    count = in_twenty(left.chance)
    if left.why == "some-paths":
        reasons = [f"its repair is planned; still there at the end in {count}"]
    else:
        reasons = [_WHY[left.why], *([f"there in {count}"] if left.chance < 1 else [])]
    if left.takes_off is None:
        reasons.append("effect on the price not known")
    elif left.takes_off > 0:
        amount = money_text(left.takes_off, assessment.currency, whole=True)
        reasons.append(f"{amount} {_OFF[assessment.route]}")
    if assessment.route == "walk-in" and left.takes_off is not None and left.why != "some-paths":
        reasons.append("not part of the quote document, whose price is for the rest")
    return f"{left.name} ({', '.join(reasons)})"
