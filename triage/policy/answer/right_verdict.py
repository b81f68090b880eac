"""The verdict on a device whose right to sell is open, and the steps that settle it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from triage.domain.money import money_text
from triage.domain.shop.settings import GoRule
from triage.policy.answer.assessment import CheckIdea, PlanStep
from triage.policy.answer.right_answer import RightAnswer
from triage.policy.answer.verdict import CHECK, LEAVE, PARTS, TAKE, Judged, missed_words, money_words
from triage.policy.pricing.outcome import Outcome
from triage.policy.problem.ownership import Ruling
from triage.policy.solver.repair_plan import STOP


def decide_open_purchase(
    outcome: Outcome,
    hoped: Outcome,
    price: float,
    limit: float | None,
    ruling: Ruling,
    rule: GoRule,
    checks: tuple[CheckIdea, ...],
    right: RightAnswer,
    currency: str,
) -> Judged:
    """Verdict on buying while the right to sell is open.

    What can be settled before paying is: the law asks for it, whatever it is worth. Where nothing can
    be, the rule decides, with the chance of being refused counted.

    Parameters
    ----------
    hoped : the same if everything that can be settled before paying comes out clear.
    """
    reason = ruling.reasons[0]
    if right.before_paying:
        if hoped.meets(rule) or (checks and not right.bars_stripping):
            return CHECK, (
                f"Settle the right to sell before you pay: {reason}. "
                f"{_gain(right, currency)}{_until(price, limit, currency)}"
            )
        lead = "Even if all that can be checked before you pay is clear"
        if right.bars_stripping:
            lead += ", its lock can only be settled once it works"
        return LEAVE, f"{lead}: {money_words(hoped, currency)}; {missed_words(hoped, rule, currency)}."
    count = f"{money_words(outcome, currency)}, the chance of being refused counted"
    if outcome.meets(rule):
        at_once = outcome.plan.act(0) is STOP
        return PARTS if at_once else TAKE, (
            f"The right to sell can only be settled after you buy it: {reason}. "
            f"At {money_text(price, currency)}: {count}."
        )
    missed = missed_words(outcome, rule, currency)
    most = f" It meets your rule at {money_text(limit, currency)} or less." if limit is not None else ""
    return LEAVE, f"The right to sell is open: {reason}. {count[0].upper()}{count[1:]}; {missed}.{most}"


def settling_steps(steps: Iterable[PlanStep], right: RightAnswer) -> tuple[PlanStep, ...]:
    """Put the settling into the steps: its minutes at the first of them, and what comes before any ending.

    A lock that can only be settled once it works is looked at before the sale; while it is not, nothing
    is stripped.
    """
    early = sum(one.minutes for one in right.questions if one.settled in ("before-paying", "on-arrival"))
    steps = tuple(steps)
    ownership = next((step for step in steps if step.kind == "ownership"), None)
    if ownership is None:
        return steps
    first = replace(ownership, minutes=early)
    told = tuple(first if step is ownership else step for step in steps)
    return tuple(_ended(told, ownership, right)) if right.bars_stripping else told


def _ended(steps: Iterable[PlanStep], ownership: PlanStep, right: RightAnswer) -> Iterator[PlanStep]:
    """Yield the steps with their endings as a lock allows that is not settled yet."""
    (lock,) = (one for one in right.questions if one.settled == "once-it-works")
    for step in steps:
        if step.kind == "strip":
            yield replace(ownership, subject="refused", minutes=step.minutes)
            continue
        if step.kind == "sell":
            yield replace(ownership, subject=lock.topic, minutes=lock.minutes)
        branches = (
            replace(
                branch,
                steps=tuple(_ended(branch.steps, ownership, right)),
                ending=tuple(_ended(branch.ending, ownership, right)),
            )
            for branch in step.branches
        )
        yield replace(step, branches=tuple(branches))


def _gain(right: RightAnswer, currency: str) -> str:
    """What settling first is worth, where it is worth anything."""
    if right.first is None:
        return ""
    return f"Settling it first raises the expected margin by {money_text(right.gain, currency)}. "


def _until(price: float, limit: float | None, currency: str) -> str:
    """What may be paid while the right is open."""
    if limit is None:
        return (
            "Until then, do not buy it: with the chance of being refused counted, no price meets your rule."
        )
    most = f"Until then, pay {money_text(limit, currency)} or less: the chance of being refused is counted"
    return f"{most}; {money_text(price, currency)} is too much." if price > limit + 0.005 else f"{most}."
