"""From a device's expected margin, risk and ownership to a verdict and the sentence that says why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from triage.domain.counts import forecast_in_twenty
from triage.domain.durations import bench_time
from triage.domain.money import money_text
from triage.domain.shop.settings import GoRule
from triage.policy.answer.assessment import CheckIdea, Verdict
from triage.policy.pricing.outcome import Outcome
from triage.policy.problem.ownership import NO_PRICE, Ruling
from triage.policy.solver.repair_plan import STOP

TAKE, CHECK, PARTS, LEAVE = Verdict
LEAST_MINUTES = 0.5  # of less bench time, money by the hour says nothing


Judged = tuple[Verdict, str]  # a verdict, and the sentence that says why


@dataclass(frozen=True)
class Settled:
    """What the verdict would be once the right to sell is settled and clear.

    lock, numbers : whether the activation lock, and serial number and IMEI, are what is not settled.
    removed : the lock is the seller's own, who has to take it off.
    limit : highest price to pay then, money; None when there is none.
    """

    lock: bool
    numbers: bool
    removed: bool
    verdict: Verdict
    limit: float | None


def decide_purchase(
    outcome: Outcome,
    price: float,
    limit: float | None,
    ruling: Ruling,
    rule: GoRule,
    checks: tuple[CheckIdea, ...],
    currency: str,
) -> Judged:
    """Verdict on buying at a price a device whose right to sell is settled as far as it can be."""
    if ruling.standing == NO_PRICE:
        return LEAVE, f"Do not buy it: {ruling.reasons[0]}."
    count = money_words(outcome, currency)
    if outcome.meets(rule):
        if outcome.plan.act(0) == STOP:
            return PARTS, f"Worth more as parts than repaired: {count}."
        return TAKE, f"At {money_text(price, currency)} it meets your rule."
    if checks:
        first = checks[0]
        return (
            CHECK,
            f"Before the check: {count}. {first.name} ({bench_time(first.minutes)}): "
            f"the result can change the verdict and raises the expected margin by "
            f"{money_text(first.worth, currency)}.",
        )
    told = f"At {money_text(price, currency)}: {count}; {missed_words(outcome, rule, currency)}."
    return LEAVE, told + (
        "" if limit is None else f" It meets your rule at {money_text(limit, currency)} or less."
    )


def decide_walk_in(
    outcome: Outcome, quote: float | None, working_price: float, ruling: Ruling, currency: str
) -> Judged:
    """Verdict on an owner's device at the lowest quote that meets the rule."""
    if ruling.standing == NO_PRICE:
        return LEAVE, f"Do not accept it: {ruling.reasons[0]}."
    worth = money_text(working_price, currency)
    if quote is None:
        return LEAVE, f"No price up to three times its resale value ({worth}) meets your rule."
    count = money_words(outcome, currency)
    if quote > working_price:
        return (
            LEAVE,
            f"The lowest price that meets your rule is {money_text(quote, currency)}, more than its "
            f"resale value ({worth}). Tell the owner.",
        )
    return TAKE, f"Quote {money_text(quote, currency)} or more (no fix, no fee). At that price: {count}."


def money_words(outcome: Outcome, currency: str) -> str:
    """Expected margin and losses in counts: the same figures as the dots."""
    margin = money_text(outcome.expected_margin, currency, whole=True)
    return f"expected margin {margin}, risk of loss {forecast_in_twenty(outcome.losses_in_20 / 20)}"


def beyond_words(outcome: Outcome, rule: GoRule, currency: str) -> str:
    """Which part of the rule stops a price from going further, in words."""
    words = {
        "margin": f"the expected margin is below {money_text(rule.margin, currency, whole=True)}",
        "margin_per_hour": "the margin a bench hour is below "
        + money_text(rule.margin_per_hour, currency, whole=True),
        "losses_in_20": f"the risk of loss is above {rule.losses_in_20} in 20",
    }
    return " and ".join(words[name] for name in told_misses(outcome, rule))


def told_misses(outcome: Outcome, rule: GoRule) -> Sequence[str]:
    """The parts of the rule that are not met; without work, money by the hour says nothing."""
    missed = outcome.misses(rule)
    if outcome.expected_minutes >= LEAST_MINUTES:
        return missed
    return tuple(name for name in missed if name != "margin_per_hour") or missed


def missed_words(outcome: Outcome, rule: GoRule, currency: str) -> str:
    """Which parts of the rule are not met, in words."""
    words = {
        "margin": f"{money_text(rule.margin, currency, whole=True)} or more a device",
        "margin_per_hour": f"{money_text(rule.margin_per_hour, currency, whole=True)} or more a bench hour "
        "after the bench rate",
        "losses_in_20": f"a risk of loss of {rule.losses_in_20} in 20 or less",
    }
    wanted = [words[name] for name in told_misses(outcome, rule)]
    return "your rule asks for " + " and ".join(
        [", ".join(wanted[:-1]), wanted[-1]] if wanted[1:] else wanted
    )
