"""One unit priced: forecast and laid out once, then valued at any price, to buy it or to repair it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from triage.domain.money import money_text
from triage.domain.units.unit import Unit
from triage.policy.answer.assessment import CheckIdea, Route, Verdict
from triage.policy.answer.check_ideas import check_ideas
from triage.policy.answer.right_answer import RightAnswer, right_answer
from triage.policy.answer.right_verdict import decide_open_purchase
from triage.policy.answer.verdict import beyond_words, decide_purchase, decide_walk_in, told_misses
from triage.policy.pricing.checks_before_buying import before_deciding
from triage.policy.pricing.outcome import Outcome
from triage.policy.pricing.right_to_sell import (
    OpenOutcome,
    before_paying,
    highest_open_bid,
    settling_first,
    with_open_right,
)
from triage.policy.pricing.valuation import Valuation, highest_bid, lowest_quote
from triage.policy.pricing.ways import Way, ways
from triage.policy.problem.build import PlanInputs, plan_inputs
from triage.policy.problem.forecast import UnitForecast
from triage.policy.problem.normalise import normalise
from triage.policy.problem.open_right import OpenRight, open_right, without_parts
from triage.policy.problem.options import PartLine
from triage.policy.problem.ownership import CHECK_FIRST, NO_PRICE, Ruling, rule_on
from triage.policy.problem.payoffs import PurchaseTerms, WalkInTerms
from triage.policy.solver.reduce import set_aside_alike, small_enough
from triage.policy.solver.repair_plan import PlanSpace
from triage.reports.wording.prices import origin_words
from triage.workflows.shop.shop import Shop


@dataclass(frozen=True)
class UnitPricing:
    """A unit with its forecast and plan inputs, ready to be priced.

    Its states are listed when the first price is asked for: `valuation`, and
    all that needs it, raise PlanTooLargeError where more unknowns and required
    repairs are left than can be planned.

    whole : the plan inputs before anything is set aside.
    fee : diagnostic fee that an owner pays for a device returned unfixed, money.
    """

    unit: Unit
    shop: Shop
    forecast: UnitForecast
    route: Route
    whole: PlanInputs
    fee: float = 0.0

    @property
    def owned(self) -> bool:
        """Whether the shop would own the unit, rather than its owner."""
        return self.route == "buy"

    @cached_property
    def _reduced(self) -> tuple[PlanInputs, PlanSpace, tuple[str, ...]]:
        return small_enough(self.whole, layouts=self.shop.layouts)

    @property
    def inputs(self) -> PlanInputs:
        """The plan inputs that are weighed."""
        return self._reduced[0]

    @property
    def set_aside(self) -> tuple[str, ...]:
        """Names of what was left out, so that the rest could be weighed; none when exact."""
        return self._reduced[2]

    @cached_property
    def valuation(self) -> Valuation:
        """The unit at any price."""
        inputs, space, _ = self._reduced
        return Valuation(inputs, self.shop.settings, space)

    def outcome_at(self, price: float, valuation: Valuation | None = None) -> Outcome:
        """The unit at a price, or as another valuation has it; what is open of the right to sell counts."""
        if not self.owned:
            return (valuation or self.valuation).quoted_at(price, self.fee)
        bought = self._while_open(valuation) if valuation else self._open_valuation
        return with_open_right(bought.bought_at(price), self.right, price)

    def ways_at(self, price: float, best: Outcome) -> tuple[Way, ...]:
        """The ways to go with a unit to buy; `best` is its plan there, if the right to sell it were clear."""
        return ways(self._open_valuation, best, price, self.right) if self.owned else ()

    @cached_property
    def right(self) -> OpenRight:
        """What is open of the right to sell it; nothing for an owner's device."""
        if not self.owned:
            return OpenRight()
        return open_right(self.unit, self.shop.catalogue, self.shop.settings)

    @cached_property
    def _open_valuation(self) -> Valuation:
        return self._while_open(self.valuation)

    def _while_open(self, valuation: Valuation) -> Valuation:
        """The unit without its parts, where nothing may be stripped before its lock is settled."""
        if not self.right.bars_stripping:
            return valuation
        return valuation.with_inputs(without_parts(valuation.inputs, self.right.hand_over))

    def terms_at(self, price: float) -> PurchaseTerms | WalkInTerms:
        """Money terms of a price."""
        if self.owned:
            return self._open_valuation.purchase_terms(price)
        return self.valuation.walk_in_terms(price, self.fee)

    def at_part_prices(self, part_prices: dict[str, float]) -> Valuation:
        """The unit when some parts cost something else, money by part."""
        books = self.shop.books_for(self.unit, part_prices)
        changed = plan_inputs(self.unit, self.forecast, books, owned=self.owned)
        return self.valuation.with_inputs(set_aside_alike(changed, self.inputs))

    @cached_property
    def ruling(self) -> Ruling:
        """What ownership says of buying the unit, or of taking it in."""
        return rule_on(self.unit, self.shop.catalogue, buying=self.owned)

    @property
    def refused(self) -> bool:
        """Whether ownership allows no price at all."""
        return self.ruling.standing == NO_PRICE

    @property
    def ownership_decides(self) -> bool:
        """Whether ownership, and not money, decides: it allows no price, or asks for a check first."""
        return self.refused or self.ruling.standing == CHECK_FIRST

    @property
    def ownership_notes(self) -> list[str]:
        """Reasons of the ruling, a sentence each."""
        return [f"{reason[:1].upper()}{reason[1:]}." for reason in self.ruling.reasons]

    @property
    def priced_by(self) -> str:
        """Where the resale value is from, in words."""
        shop = self.shop
        return origin_words(shop.price_origin(self.unit), shop.today, shop.settings.price_age_days)

    def unconfirmed_prices(self, lines: Iterable[PartLine]) -> list[str]:
        """A sentence for each part whose price is assumed."""
        parts, currency = self.shop.catalogue.parts, self.shop.settings.currency
        return [
            f"Price of {parts[line.part].name} not confirmed: {money_text(line.price, currency)} assumed"
            + (f" ({line.age_days:,} days old)." if line.age_days is not None else ".")
            for line in lines
            if not line.confirmed
        ]

    @cached_property
    def limit(self) -> float | None:
        """Highest price worth paying, or lowest to ask of an owner; it does not depend on the price asked."""
        rule = self.shop.settings.go_rule
        if self.refused:
            return None
        if not self.owned:
            return lowest_quote(self.valuation, rule, self.fee)
        clear = highest_bid(self.valuation, rule)
        if self.right.clear >= 1.0:
            return clear
        return highest_open_bid(self._open_valuation, clear, self.right, rule)

    @cached_property
    def limit_words(self) -> str:
        """What kind of limit it is, and what stops a price from going further."""
        settings = self.shop.settings
        if not self.owned:
            return "no price meets your rule" if self.limit is None else "fixed price, no fix, no fee"
        if self.refused:
            return "do not buy"
        if self.ruling.standing == CHECK_FIRST:
            return "the chance that the right to sell is refused is counted"
        if self.limit is None:
            return "no price meets your rule"
        stops = beyond_words(self.outcome_at(self.limit + 0.01), settings.go_rule, settings.currency)
        return f"above it, {stops}" if stops else "above it, your rule is not met"

    @cached_property
    def limited_by(self) -> tuple[str, ...]:
        """Parts of the go rule that fail a cent above the highest price; none where there is none."""
        if not self.owned or self.limit is None:
            return ()
        return tuple(told_misses(self.outcome_at(self.limit + 0.01), self.shop.settings.go_rule))

    def checks_before(self, outcome: Outcome, terms: PurchaseTerms | WalkInTerms) -> tuple[CheckIdea, ...]:
        """Checks worth making before deciding, by the shop's own rule."""
        if self.refused:
            return ()
        rule, outcome = self.shop.settings.go_rule, settled(outcome)

        def takes(state: int) -> bool:
            if outcome.plan.policy.value[state] - outcome.upfront < rule.margin:
                return False
            return self._open_valuation.after(outcome, terms, state).meets(rule)

        before = before_deciding(outcome.plan, outcome.upfront, takes)
        return check_ideas(before, self.inputs.problem, self.shop.catalogue)


@dataclass(frozen=True)
class PricedUnit:
    """A unit at one price.

    price : asking price or quote; None when there is none.
    valued_at : price of `outcome` and `terms`; where `price` is None, the one they are shown for.
    """

    pricing: UnitPricing
    price: float | None
    valued_at: float
    outcome: Outcome
    terms: PurchaseTerms | WalkInTerms
    checks: tuple[CheckIdea, ...]
    verdict: Verdict
    sentence: str
    right: RightAnswer | None = None

    def revalue(self, valuation: Valuation) -> Outcome:
        """The unit, or a changed one, at the same price."""
        return self.pricing.outcome_at(self.valued_at, valuation)

    def decides(self, valuation: Valuation) -> Outcome:
        """The unit, or a changed one, at the price that the verdict hangs on.

        That is the asking price; without one, whether any price will do; and an owner's device is
        quoted where its resale value would do.
        """
        if not self.pricing.owned:
            return self.pricing.outcome_at(self.pricing.inputs.working_price, valuation)
        return self.pricing.outcome_at(self.price or 0.0, valuation)


def unit_pricing(
    unit: Unit,
    shop: Shop,
    walk_in: bool = False,
    forecast: UnitForecast | None = None,
    draws: int | None = None,
    fee: float = 0.0,
) -> UnitPricing:
    """Forecast a unit and lay it out.

    Parameters
    ----------
    walk_in : the unit is an owner's, to be quoted rather than bought.
    forecast : made from `draws` of the shop's stored draws when None.
    fee : as in `UnitPricing`.

    Raises
    ------
    PosteriorError : the fit behind the chances failed its checks.
    """
    unit = normalise(unit, shop.catalogue)
    forecast = forecast or shop.forecast(unit, draws)
    inputs = plan_inputs(unit, forecast, shop.books_for(unit), owned=not walk_in)
    return UnitPricing(unit, shop, forecast, "walk-in" if walk_in else "buy", inputs, fee)


def priced_at(pricing: UnitPricing, ask: float | None = None, brief: bool = False) -> PricedUnit:
    """Price a unit at an asking price, else at the highest bid; an owner's at its lowest quote.

    Parameters
    ----------
    ask : asking price of a unit to buy, money.
    brief : leave out checks that could not change the verdict on a purchase.

    Raises
    ------
    PlanTooLargeError : more unknowns and required repairs than can be planned.
    """
    settings, ruling = pricing.shop.settings, pricing.ruling
    rule, currency = settings.go_rule, settings.currency
    if not pricing.owned:
        price, otherwise = pricing.limit, pricing.inputs.working_price
    else:
        if ask is not None:
            pricing.valuation.will_be_asked(ask)
        price, otherwise = ask, pricing.limit or 0.0
    valued_at = otherwise if price is None else price
    outcome, terms = pricing.outcome_at(valued_at), pricing.terms_at(valued_at)
    open_first = ruling.standing == CHECK_FIRST
    hoped = _hoped(pricing, outcome, valued_at) if open_first else outcome
    decided = hoped.meets(rule)
    checks = () if brief and decided else pricing.checks_before(outcome, terms)
    right = _right_answer(pricing, outcome, valued_at)
    if open_first and right is not None:
        judged = decide_open_purchase(
            outcome, hoped, valued_at, pricing.limit, ruling, rule, checks, right, currency
        )
    elif pricing.owned:
        judged = decide_purchase(outcome, valued_at, pricing.limit, ruling, rule, checks, currency)
    else:
        judged = decide_walk_in(outcome, price, pricing.inputs.working_price, ruling, currency)
    return PricedUnit(pricing, price, valued_at, outcome, terms, checks, *judged, right)


def settled(outcome: Outcome) -> Outcome:
    """An outcome as it would be with the right to sell clear."""
    return outcome.settled if isinstance(outcome, OpenOutcome) else outcome


def _hoped(pricing: UnitPricing, outcome: Outcome, price: float) -> Outcome:
    """The same purchase if all that can be settled before paying comes out clear."""
    right = pricing.right
    for one in before_paying(right):
        right = right.without(one.topic)
    return with_open_right(settled(outcome), right, price)


def _right_answer(pricing: UnitPricing, outcome: Outcome, price: float) -> RightAnswer | None:
    """What is open of the right to sell and what settling it first is worth; None where nothing is."""
    if pricing.refused or not pricing.right.questions:
        return None
    first = settling_first(settled(outcome), pricing.right, price, pricing.shop.settings.go_rule)
    return right_answer(pricing.right, first)
