"""The margin breakdown of a purchase whose right to sell is open; its lines sum to the margin too."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from triage.domain.counts import in_twenty
from triage.policy.answer.assessment import MoneyLine
from triage.policy.pricing.outcome import Outcome
from triage.policy.pricing.right_to_sell import OpenOutcome

# Paid whatever comes of the right; paid unless it is refused before the work. All else: where it is clear.
_IN_ANY_CASE = ("purchase price", "buyer's premium and inbound postage", "consumables")
_WITH_THE_WORK = ("parts", "bench time", "accidental damage and faulty new parts")


def right_lines(outcome: Outcome, lines: Iterable[MoneyLine]) -> tuple[MoneyLine, ...]:
    """Weigh the lines of the plan by what comes of the right, and add what settling and a refusal take.

    Parameters
    ----------
    lines : of the same plan with the right clear.
    """
    if not isinstance(outcome, OpenOutcome):
        return tuple(lines)
    return (*_weighed(outcome, lines), *_of_the_right(outcome))


def _weighed(outcome: OpenOutcome, lines: Iterable[MoneyLine]) -> Iterator[MoneyLine]:
    right, rate = outcome.right, outcome.plan.plan_space.problem.rate
    for line in lines:
        if line.label in _IN_ANY_CASE:
            yield line
        elif line.label == "bench time":
            safe = outcome.entry_minutes * rate  # a bad cell is made safe before anything is settled
            yield replace(line, amount=right.clear_early * (line.amount + safe) - safe, note="")
        else:
            share = right.clear_early if line.label in _WITH_THE_WORK else right.clear
            yield replace(line, amount=share * line.amount)


def _of_the_right(outcome: OpenOutcome) -> Iterator[MoneyLine]:
    refused = 1.0 - outcome.right.clear
    back = refused * outcome.right.price_back * outcome.paid
    spent = back + sum(one.chance * one.spent for one in outcome.endings.all)
    if back:
        yield MoneyLine("price back where the right is refused", back)
    yield MoneyLine("settling the right to sell, handing over", -spent, f"refused {in_twenty(refused)}")
