"""One owner's device from description to quote: the same function behind screen and command line."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property

import numpy as np

from triage.domain.money import from_minor, money_text, to_minor
from triage.domain.units.unit import Unit
from triage.errors import NoQuoteError
from triage.policy.answer.quote import (
    BatteryConcern,
    BenchFigures,
    Offer,
    Quote,
    QuoteKind,
    Stage,
    last_day,
    number_of,
)
from triage.policy.answer.quote_scope import Scope, passed_over, without_kinds
from triage.policy.answer.verdict import LEAST_MINUTES
from triage.policy.pricing.outcome import Outcome
from triage.policy.pricing.quote_prices import (
    BestPrice,
    StageQuote,
    best_price,
    break_even_price,
    kept_to,
    staged_estimate,
)
from triage.policy.problem.forecast import UnitForecast
from triage.policy.problem.normalise import cell_hazard, cell_suspect, covered_words, normalise, wet
from triage.policy.problem.ownership import NO_PRICE, rule_on
from triage.workflows.answers.pricing import UnitPricing, unit_pricing
from triage.workflows.shop.shop import Shop

# Kinds of quote under which a diagnostic fee is kept when it goes back unfixed.
_WITH_FEE = ("diagnostic-fee", "staged")


def quote_unit(
    unit: Unit,
    shop: Shop,
    kind: QuoteKind,
    price: float | None = None,
    customer: str = "",
    number: str = "",
    issued: date | None = None,
    forecast: UnitForecast | None = None,
) -> Quote:
    """Quote an owner for one device.

    Parameters
    ----------
    price : set by hand, major units; None means the least that meets the shop's rule.
    number : of the quote; made from the date and its content when empty.
    issued : day of the quote; the shop's today when None.
    forecast : made from the shop's stored draws when None.

    Raises
    ------
    NoQuoteError : the device may not be taken in, or no price covers it and none was set.
    PosteriorError : the fit behind the chances failed its checks.
    PlanTooLargeError : more unknowns and required repairs than can be planned.
    """
    settings, issued = shop.settings, issued or shop.today
    unit = normalise(unit, shop.catalogue)
    ruling = rule_on(unit, shop.catalogue, buying=False)
    if ruling.standing == NO_PRICE:
        raise NoQuoteError(f"no quote; do not accept it: {'; '.join(ruling.reasons)}")
    fee = settings.quoting.diagnostic_fee if kind in _WITH_FEE else 0.0
    pricing = unit_pricing(unit, shop, walk_in=True, forecast=forecast, fee=fee)
    quoted = _quoted(pricing, kind, price)
    offer = quoted.offer(issued)
    number = number or number_of(issued, unit, kind, offer.price)
    told = (unit.name, unit.model, customer, number, issued, offer, quoted.figures())
    return Quote(kind, settings.shop, settings.currency, *told)


def _quoted(pricing: UnitPricing, kind: QuoteKind, by_hand: float | None) -> _Quoted:
    """Settle what work is quoted, and at which price."""
    # A higher price than the least may pay for more.
    fullest = pricing.outcome_at(max(_fair(pricing), by_hand or 0.0))
    leaving, set_aside = passed_over(pricing.inputs, fullest.plan, pricing.unit), pricing.set_aside
    if leaving:
        pricing = replace(pricing, whole=without_kinds(pricing.inputs, leaving))
    price = pricing.limit if by_hand is None else by_hand
    if price is None:
        worth = money_text(pricing.inputs.working_price, pricing.shop.settings.currency)
        raise NoQuoteError(
            f"no price up to three times its resale value ({worth}) meets your rule; "
            "enter your own price to quote it"
        )
    return _Quoted(pricing, kind, price, set_aside)


def _fair(pricing: UnitPricing) -> float:
    """A price the shop can live with: the work it pays for is what is promised at any price."""
    return 3.0 * pricing.inputs.working_price if pricing.limit is None else pricing.limit


@dataclass(frozen=True)
class _Quoted:
    """The work of a quote at its price.

    set_aside : what was left out of the plan before the work was settled.
    """

    pricing: UnitPricing
    kind: QuoteKind
    price: float
    set_aside: tuple[str, ...]

    @cached_property
    def _outcome(self) -> Outcome:
        return self.pricing.outcome_at(self.price)

    @cached_property
    def _promised(self) -> Outcome:
        return self.pricing.outcome_at(_fair(self.pricing))

    @cached_property
    def _scope(self) -> Scope:
        pricing = self.pricing
        return Scope(pricing.unit, pricing.shop.catalogue, pricing.inputs, self._promised.plan)

    @cached_property
    def _break_even(self) -> float | None:
        return break_even_price(self.pricing.valuation, self.pricing.fee)

    @property
    def _below_cost(self) -> bool:
        return self._break_even is None or self.price < self._break_even - 0.005

    @property
    def _over_worth(self) -> bool:
        return self.price > self.pricing.inputs.working_price

    def offer(self, issued: date) -> Offer:
        """What the owner is told."""
        unit, catalogue, scope = self.pricing.unit, self.pricing.shop.catalogue, self._scope
        settings, quoting = self.pricing.shop.settings, self.pricing.shop.settings.quoting
        stages, lost = self._stages() if self.kind == "staged" else (), scope.lost()
        waits = [line.lead_days for line in scope.part_lines() if not line.on_hand]
        maxima = [stage.maximum for stage in stages if stage.maximum is not None]
        battery: BatteryConcern = "suspect" if cell_suspect(unit, catalogue) else "no concern"
        battery = "hazard" if cell_hazard(unit, catalogue) else battery
        return Offer(
            price=self._paid(self.price),
            ceiling=self._paid(max([self.price, *maxima])),
            fee=self.pricing.fee,
            reduced=self._reduced() if lost else None,
            work=scope.work(),
            possible=scope.possible(),
            parts=scope.parts(),
            lost=lost,
            carried_over=scope.carried_over(),
            stages=stages,
            part_days=(max((w[1] for w in waits), default=0.0), max((w[2] for w in waits), default=0.0)),
            battery=battery,
            wet=wet(unit, catalogue),
            data_wanted=unit.data_wanted,
            over_worth=self._over_worth,
            valid_until=last_day(issued, quoting.valid_days),
            valid_days=quoting.valid_days,
            answer_days=quoting.answer_days,
            warranty_days=settings.warranty_days,
        )

    def figures(self) -> BenchFigures:
        """What the price means for the shop."""
        pricing, outcome = self.pricing, self._outcome
        margin = outcome.expected_margin
        if self._below_cost:
            # Nobody would start at this price; who has promised the work does it all the same.
            terms = pricing.valuation.walk_in_terms
            planned, paid = terms(_fair(pricing), pricing.fee), terms(self.price, pricing.fee)
            outcome = pricing.valuation.after(self._promised, paid, 0)
            margin = kept_to(self._promised, planned, paid)
        return BenchFigures(
            least=pricing.limit,
            break_even=self._break_even,
            below_cost=self._below_cost,
            expected_margin=margin,
            losses_in_20=outcome.losses_in_20,
            margin_per_hour=60.0 * margin / outcome.expected_minutes
            if outcome.expected_minutes >= LEAST_MINUTES
            else None,
            minutes=outcome.expected_minutes,
            chance_finished=outcome.plan.chance_finished,
            best=self._best(),
            notes=self._notes(),
            priced_by=pricing.priced_by,
        )

    def _stages(self) -> tuple[Stage, ...]:
        settings = self.pricing.shop.settings
        told = staged_estimate(self.pricing.inputs, settings, settings.go_rule, self.pricing.fee)
        # At intake the price is the one asked: nothing has been learned yet.
        intake = Stage(told[0].stage, self.price, self.price, self.price, told[0].refusal > 0)
        return (intake, *(_stage(stage) for stage in told[1:]))

    def _best(self) -> BestPrice | None:
        acceptance = self.pricing.shop.settings.quoting.acceptance
        if acceptance is None:
            return None
        return best_price(
            lambda price: self.pricing.outcome_at(price).expected_margin,
            acceptance,
            self.pricing.inputs.working_price,
        )

    def _reduced(self) -> tuple[float, float]:
        """Price when one function, or more, could not be restored: as the terms of the plan have it."""
        purse = self.pricing.terms_at(self.price).finish_purse(np.array([1, 2]), np.zeros(2, dtype=int))
        one, more = (self._paid(float(price)) for price in purse.price)
        return one, more

    def _paid(self, amount: float) -> float:
        """Round money to what can be paid."""
        currency = self.pricing.shop.settings.currency
        return from_minor(to_minor(amount, currency), currency)

    def _notes(self) -> tuple[str, ...]:
        settings, working = self.pricing.shop.settings, self.pricing.inputs.working_price
        rule, currency = settings.go_rule, settings.currency
        pricing = self.pricing
        notes = [*pricing.ownership_notes, *covered_words(pricing.unit, pricing.shop.catalogue)]
        if self._over_worth:
            notes.append(
                f"The price is above its resale value of {money_text(working, currency)}: tell the owner."
            )
        if "losses_in_20" in self._outcome.misses(rule) and not self._below_cost:
            notes.append(f"The risk of loss is above the {rule.losses_in_20} in 20 of your rule.")
        notes += self.pricing.unconfirmed_prices(self._scope.part_lines())
        if self.set_aside:
            notes.append(f"Too complex to plan exactly; not counted on: {', '.join(self.set_aside)}.")
        return tuple(notes)


def _stage(told: StageQuote) -> Stage:
    prices = (told.low, told.high, told.maximum)
    low, high, maximum = (float(p) if np.isfinite(p) else None for p in prices)
    return Stage(told.stage, low, high, maximum, told.refusal > 0)
