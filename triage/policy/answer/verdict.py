"""From a unit's value and ownership to a verdict and the sentence that says why."""

from __future__ import annotations

from triage.domain.durations import bench_time
from triage.domain.money import money_text
from triage.domain.shop.settings import GoRule
from triage.policy.answer.assessment import CheckIdea, Verdict
from triage.policy.pricing.outcome import Outcome
from triage.policy.problem.ownership import CHECK_FIRST, NO_PRICE, Ruling
from triage.policy.solver.repair_plan import STOP

TAKE, CHECK, PARTS, LEAVE = Verdict


Judged = tuple[Verdict, str]  # a verdict, and the sentence that says why


def decide_purchase(
    outcome: Outcome,
    price: float,
    limit: float | None,
    ruling: Ruling,
    rule: GoRule,
    checks: tuple[CheckIdea, ...],
    currency: str,
) -> Judged:
    """Verdict on buying at a price."""
    if ruling.standing == NO_PRICE:
        return LEAVE, f"No price at all: {ruling.reasons[0]}."
    count = money_words(outcome, currency)
    if ruling.standing == CHECK_FIRST:
        over = limit is None or price > limit + 0.005
        cap = "its parts carry no price" if limit is None else f"no more than {money_text(limit, currency)}"
        tail = (
            f"at {money_text(price, currency)} it is too dear for that" if over else "its lawful parts value"
        )
        return (CHECK, f"Check the numbers before any money: {ruling.reasons[0]}. Until then {cap}; {tail}.")
    if outcome.meets(rule):
        if outcome.plan.act(0) == STOP:
            return PARTS, f"Worth more as parts than the repairs can add: {count}."
        return TAKE, f"{count[0].upper()}{count[1:]}; it meets your rule."
    if checks:
        first = checks[0]
        return (
            CHECK,
            f"As it stands {count}, but {_lower(first.name)} ({bench_time(first.minutes)}) can turn that: "
            f"worth {money_text(first.worth, currency)}.",
        )
    missed = _missed(outcome, rule, currency)
    if limit is None:
        return LEAVE, f"{count[0].upper()}{count[1:]}; {missed}."
    return (
        LEAVE,
        f"At {money_text(price, currency)} {count}; {missed}. "
        f"At {money_text(limit, currency)} or less it would do.",
    )


def decide_walk_in(
    outcome: Outcome, quote: float | None, working_price: float, ruling: Ruling, currency: str
) -> Judged:
    """Verdict on an owner's device at the lowest quote that meets the rule."""
    if ruling.standing == NO_PRICE:
        return LEAVE, f"Do not take it in: {ruling.reasons[0]}."
    worth = money_text(working_price, currency)
    if quote is None:
        return LEAVE, f"No price up to three times its worth ({worth}) covers the risk."
    count = money_words(outcome, currency)
    if quote > working_price:
        return (
            LEAVE,
            f"It would have to cost {money_text(quote, currency)}, more than it is worth working ({worth}): "
            "say so to the owner.",
        )
    return TAKE, f"Quote {money_text(quote, currency)} or more, no fix no fee: {count}."


def money_words(outcome: Outcome, currency: str) -> str:
    """Expected margin and losses in counts: the same figures as the dots."""
    margin = money_text(outcome.expected_margin, currency, whole=True)
    return f"expect {margin}, losing money in {outcome.losses_in_20} of 20"


def beyond_words(outcome: Outcome, rule: GoRule, currency: str) -> str:
    """Which part of the rule stops a price from going further, in words."""
    words = {
        "margin": f"less than {money_text(rule.margin, currency, whole=True)} to expect",
        "margin_per_hour": f"less than {money_text(rule.margin_per_hour, currency, whole=True)} an hour",
        "losses_in_20": f"more than {rule.losses_in_20} losses in 20",
    }
    return " and ".join(words[name] for name in outcome.misses(rule))


def _missed(outcome: Outcome, rule: GoRule, currency: str) -> str:
    words = {
        "margin": f"{money_text(rule.margin, currency, whole=True)} a device",
        "margin_per_hour": f"{money_text(rule.margin_per_hour, currency, whole=True)} an hour",
        "losses_in_20": f"at most {rule.losses_in_20} losses in 20",
    }
    wanted = [words[name] for name in outcome.misses(rule)]
    return "your rule wants " + " and ".join([", ".join(wanted[:-1]), wanted[-1]] if wanted[1:] else wanted)


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]
