"""One unit on the desk: laid out once, then priced at an asking price or a quote."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

from triage.domain.units.unit import Unit
from triage.policy.answer.assessment import CheckIdea, Route
from triage.policy.answer.check_ideas import check_ideas
from triage.policy.answer.verdict import JudgedPrice, beyond_words, decide_purchase, decide_walk_in
from triage.policy.pricing.checks_before_buying import before_deciding
from triage.policy.pricing.salvage import highest_parts_bid
from triage.policy.pricing.valuation import Outcome, Valuation, highest_bid, lowest_quote
from triage.policy.problem.build import PlanInputs, plan_inputs
from triage.policy.problem.forecast import UnitForecast
from triage.policy.problem.normalise import normalise
from triage.policy.problem.ownership import CHECK_FIRST, NO_PRICE, Ruling, rule_on
from triage.policy.problem.payoffs import PurchaseTerms, WalkInTerms
from triage.policy.solver.reduce import small_enough
from triage.prediction.forecast import forecast_unit
from triage.workflows.shop.shop import DRAWS, NODES, Shop


@dataclass(frozen=True)
class Desk:
    """A unit with its forecast and states; `set_aside` names what was left out to fit."""

    unit: Unit
    forecast: UnitForecast
    shop: Shop
    inputs: PlanInputs
    valuation: Valuation
    set_aside: tuple[str, ...]
    route: Route

    @property
    def owned(self) -> bool:
        """Whether the shop would own the unit, rather than its owner."""
        return self.route == "buy"

    @cached_property
    def buying(self) -> Ruling:
        """What ownership says of buying it."""
        return rule_on(self.unit, self.shop.catalogue, buying=True)

    @cached_property
    def bid_limit(self) -> float | None:
        """Highest price worth paying; it does not hang on the price asked."""
        rule = self.shop.settings.go_rule
        if self.buying.standing == NO_PRICE:
            return None
        if self.buying.standing == CHECK_FIRST:
            return highest_parts_bid(self.inputs, self.shop.settings, rule)
        return highest_bid(self.valuation, rule)


@dataclass(frozen=True)
class Priced:
    """A unit on the desk at one price.

    price : asking price or quote as given; None when there is none.
    revalue : values the unit, or a changed one, at that price.
    """

    desk: Desk
    price: float | None
    outcome: Outcome
    terms: PurchaseTerms | WalkInTerms
    ruling: Ruling
    decision: JudgedPrice
    limit: float | None
    checks: tuple[CheckIdea, ...]
    revalue: Callable[[Valuation], Outcome]

    @cached_property
    def limit_words(self) -> str:
        """What kind of limit it is, and what stops a price from going further."""
        return _limit_words(self)

    @property
    def refused(self) -> bool:
        """Whether ownership allows no price at all."""
        return self.ruling.standing == NO_PRICE


def open_desk(
    unit: Unit,
    shop: Shop,
    walk_in: bool = False,
    forecast: UnitForecast | None = None,
    draws: int = DRAWS,
) -> Desk:
    """Lay a unit out.

    Parameters
    ----------
    forecast : made from `draws` of the shop's stored draws when None.

    Raises
    ------
    PlanTooLargeError : more unknowns and required repairs than can be planned.
    """
    return desk_for(lay_out(unit, shop, walk_in, forecast, draws), shop)


@dataclass(frozen=True)
class LaidOut:
    """A unit as its plan sees it, its states not listed yet."""

    unit: Unit
    forecast: UnitForecast
    inputs: PlanInputs
    route: Route


def lay_out(
    unit: Unit,
    shop: Shop,
    walk_in: bool = False,
    forecast: UnitForecast | None = None,
    draws: int = DRAWS,
) -> LaidOut:
    """Forecast a unit and lay it out; the parameters are those of `open_desk`."""
    unit = normalise(unit, shop.catalogue)
    if forecast is None and draws == DRAWS:
        forecast = shop.forecaster.forecast(unit)
    elif forecast is None:
        forecast = forecast_unit(
            unit, shop.catalogue, shop.chances, shop.priors, shop.settings, draws=draws, nodes=NODES
        )
    inputs = plan_inputs(unit, forecast, shop.bench(unit), owned=not walk_in)
    return LaidOut(unit, forecast, inputs, "walk-in" if walk_in else "buy")


def desk_for(laid: LaidOut, shop: Shop) -> Desk:
    """List a unit's states.

    Raises
    ------
    PlanTooLargeError : more unknowns and required repairs than can be planned.
    """
    inputs, space, dropped = small_enough(laid.inputs, layouts=shop.layouts)
    valuation = Valuation(inputs, shop.settings, space)
    return Desk(laid.unit, laid.forecast, shop, inputs, valuation, dropped, laid.route)


def price_purchase(desk: Desk, ask: float | None, brief: bool = False) -> Priced:
    """Price a unit to buy; without an asking price it is valued at the highest bid.

    Parameters
    ----------
    brief : leave out checks that could not change the verdict.
    """
    settings, ruling = desk.shop.settings, desk.buying
    if ask is not None:
        desk.valuation.will_be_asked(ask)
    limit = desk.bid_limit
    price = ask if ask is not None else (limit or 0.0)
    outcome, terms = desk.valuation.bought_at(price), desk.valuation.purchase_terms(price)
    decided = ruling.standing == CHECK_FIRST or outcome.meets(settings.go_rule)
    checks = () if brief and decided else _checks(desk, outcome, terms, ruling)
    decision = decide_purchase(outcome, price, limit, ruling, settings.go_rule, checks, settings.currency)
    return Priced(desk, ask, outcome, terms, ruling, decision, limit, checks, lambda v: v.bought_at(price))


def price_walk_in(desk: Desk) -> Priced:
    """Price an owner's device at the lowest fixed price that meets the rule."""
    settings, valuation = desk.shop.settings, desk.valuation
    ruling = rule_on(desk.unit, desk.shop.catalogue, buying=False)
    quote = None if ruling.standing == NO_PRICE else lowest_quote(valuation, settings.go_rule)
    at = quote if quote is not None else desk.inputs.working_price
    outcome, terms = valuation.quoted_at(at), valuation.walk_in_terms(at)
    decision = decide_walk_in(outcome, quote, desk.inputs.working_price, ruling, settings.currency)
    checks = _checks(desk, outcome, terms, ruling)
    return Priced(desk, quote, outcome, terms, ruling, decision, quote, checks, lambda v: v.quoted_at(at))


def _limit_words(priced: Priced) -> str:
    desk, settings, limit = priced.desk, priced.desk.shop.settings, priced.limit
    if not desk.owned:
        return "lowest fixed price, no fix no fee" if limit is not None else "no price covers it"
    if priced.refused:
        return "no price at all"
    if priced.ruling.standing == CHECK_FIRST:
        return "lawful parts value, until the numbers are checked"
    if limit is None:
        return "no price is low enough"
    beyond = desk.valuation.bought_at(limit + 0.01)
    stops = beyond_words(beyond, settings.go_rule, settings.currency)
    return "highest price that meets your rule" + (f"; above it, {stops}" if stops else "")


def _checks(
    desk: Desk, outcome: Outcome, terms: PurchaseTerms | WalkInTerms, ruling: Ruling
) -> tuple[CheckIdea, ...]:
    """Checks worth making before deciding, by the shop's own rule."""
    if ruling.standing == NO_PRICE:
        return ()
    rule = desk.shop.settings.go_rule

    def takes(state: int) -> bool:
        if outcome.plan.policy.value[state] - outcome.upfront < rule.margin:
            return False
        return desk.valuation.after(outcome, terms, state).meets(rule)

    before = before_deciding(outcome.plan, outcome.upfront, takes)
    return check_ideas(before, desk.inputs.problem, desk.shop.catalogue)
