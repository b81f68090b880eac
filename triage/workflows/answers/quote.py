"""One owner's device from description to quote: the same function behind screen and command line."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np

from triage.domain.money import from_minor, money_text, to_minor
from triage.domain.units.unit import Unit
from triage.errors import NoQuoteError
from triage.policy.answer.quote import BenchFigures, Offer, Quote, QuoteKind, Stage, last_day, number_of
from triage.policy.answer.quote_scope import Scope, passed_over, without_kinds
from triage.policy.pricing.quote_prices import (
    BestPrice,
    FixedQuote,
    StageQuote,
    best_price,
    data_only,
    kept_to,
    quote_at,
    staged_estimate,
)
from triage.policy.pricing.valuation import Outcome, Valuation, lowest_quote
from triage.policy.problem.build import PlanInputs, plan_inputs
from triage.policy.problem.forecast import UnitForecast
from triage.policy.problem.normalise import cell_hazard, cell_suspect, normalise, wet
from triage.policy.problem.ownership import NO_PRICE, rule_on
from triage.policy.solver.reduce import small_enough
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
) -> Quote:
    """Quote an owner for one device.

    Parameters
    ----------
    price : set by hand, major units; None means the least that meets the shop's rule.
    number : of the quote; made from the date and its content when empty.
    issued : day of the quote; the shop's today when None.

    Raises
    ------
    NoQuoteError : the device may not be taken in, or no price covers it and none was set.
    PosteriorError : the fit behind the chances failed its checks.
    PlanTooLargeError : more unknowns and required repairs than can be planned.
    """
    unit = normalise(unit, shop.catalogue)
    _refuse(unit, shop)
    return quote_from(unit, shop.forecaster.forecast(unit), shop, kind, price, customer, number, issued)


def quote_from(
    unit: Unit,
    forecast: UnitForecast,
    shop: Shop,
    kind: QuoteKind,
    price: float | None = None,
    customer: str = "",
    number: str = "",
    issued: date | None = None,
) -> Quote:
    """The same from a forecast in hand; `unit` is normalised."""
    _refuse(unit, shop)
    inputs = plan_inputs(unit, forecast, shop.bench(unit), owned=False)
    if kind == "data-only":
        blocking = {entry.slug for entry in shop.catalogue.kind if entry.blocks_data}
        inputs = data_only(inputs, blocking, shop.settings)
    inputs, space, set_aside = small_enough(inputs)
    counter = _Quoting(unit, shop, kind, Valuation(inputs, shop.settings, space), set_aside)
    issued = issued or shop.today
    offer, bench = counter.bargain(price, issued)
    number = number or number_of(issued, unit, kind, offer.price)
    settings = shop.settings
    return Quote(
        kind, settings.shop, settings.currency, unit.name, unit.model, customer, number, issued, offer, bench
    )


def _refuse(unit: Unit, shop: Shop) -> None:
    ruling = rule_on(unit, shop.catalogue, buying=False)
    if ruling.standing == NO_PRICE:
        raise NoQuoteError(f"no quote, do not take it in: {'; '.join(ruling.reasons)}")


@dataclass(frozen=True)
class _Quoting:
    """One device at the counter, laid out and ready to be priced."""

    unit: Unit
    shop: Shop
    kind: QuoteKind
    valuation: Valuation
    set_aside: tuple[str, ...]

    @property
    def _fee(self) -> float:
        return self.shop.settings.quoting.diagnostic_fee if self.kind in _WITH_FEE else 0.0

    def bargain(self, by_hand: float | None, issued: date) -> tuple[Offer, BenchFigures]:
        """What is offered, and what it means for the shop."""
        rule, fee = self.shop.settings.go_rule, self._fee
        valuation, least = self.valuation, lowest_quote(self.valuation, rule, fee)
        # A higher price than the least may pay for more.
        fullest = valuation.quoted_at(max(_fair(valuation, least), by_hand or 0.0), fee)
        leaving = passed_over(valuation.inputs, fullest.plan, self.unit)
        if leaving:
            valuation = Valuation(without_kinds(valuation.inputs, leaving), self.shop.settings)
            least = lowest_quote(valuation, rule, fee)
        if least is None and by_hand is None:
            worth = money_text(valuation.inputs.working_price, self.shop.settings.currency)
            raise NoQuoteError(
                f"no price up to three times its worth ({worth}) covers the risk; set one by hand to quote it"
            )
        asked = quote_at(valuation, least if by_hand is None else by_hand, fee)
        promised = valuation.quoted_at(_fair(valuation, least), fee)
        scope = Scope(self.unit, self.shop.catalogue, valuation.inputs, promised.plan)
        stages = self._stages(valuation.inputs, asked) if self.kind == "staged" else ()
        return (
            self._offer(asked, valuation, scope, stages, issued),
            self._figures(least, asked, promised, valuation, self._notes(asked, scope)),
        )

    def _stages(self, inputs: PlanInputs, asked: FixedQuote) -> tuple[Stage, ...]:
        told = staged_estimate(inputs, self.shop.settings, self.shop.settings.go_rule, self._fee)
        # At the counter the price is the one asked: nothing has been learned yet.
        counter = Stage(told[0].stage, asked.price, asked.price, asked.price, told[0].refusal > 0)
        return (counter, *(_stage(stage) for stage in told[1:]))

    def _best(self, valuation: Valuation) -> BestPrice | None:
        acceptance = self.shop.settings.quoting.acceptance
        # How owners answer is known for repairs, against what the device is worth.
        if acceptance is None or self.kind == "data-only":
            return None
        return best_price(
            lambda price: valuation.quoted_at(price, self._fee).expected_margin,
            acceptance,
            valuation.inputs.working_price,
        )

    def _offer(
        self, asked: FixedQuote, valuation: Valuation, scope: Scope, stages: tuple[Stage, ...], issued: date
    ) -> Offer:
        settings, unit, catalogue = self.shop.settings, self.unit, self.shop.catalogue
        quoting = settings.quoting
        waits = [line.lead_days for line in scope.part_lines() if not line.on_hand]
        lost = scope.lost()
        maxima = [stage.maximum for stage in stages if stage.maximum is not None]
        battery = "hazard" if cell_hazard(unit, catalogue) else "suspect"
        return Offer(
            price=self._paid(asked.price),
            ceiling=self._paid(max([asked.price, *maxima])),
            fee=self._fee,
            reduced=self._reduced(asked.price, valuation) if lost else None,
            work=scope.work(),
            possible=scope.possible(),
            parts=scope.parts(),
            lost=lost,
            carried_over=scope.carried_over(),
            stages=stages,
            part_days=(max((w[1] for w in waits), default=0.0), max((w[2] for w in waits), default=0.0)),
            battery=battery if cell_suspect(unit, catalogue) or battery == "hazard" else "no concern",
            wet=wet(unit, catalogue),
            data_wanted=unit.data_wanted,
            over_worth=self.kind != "data-only" and asked.price > valuation.inputs.working_price,
            valid_until=last_day(issued, quoting.valid_days),
            valid_days=quoting.valid_days,
            answer_days=quoting.answer_days,
            warranty_days=settings.warranty_days,
        )

    def _reduced(self, price: float, valuation: Valuation) -> tuple[float, float]:
        """Price when one function, or more, could not be restored: as the terms of the plan have it."""
        terms = valuation.walk_in_terms(price, self._fee)
        one, more = (
            float(paid) for paid in terms.finish_purse(np.array([1, 2]), np.zeros(2, dtype=int)).price
        )
        return self._paid(one), self._paid(more)

    def _paid(self, amount: float) -> float:
        """Round money to what can be paid."""
        currency = self.shop.settings.currency
        return from_minor(to_minor(amount, currency), currency)

    def _figures(
        self,
        least: float | None,
        asked: FixedQuote,
        promised: Outcome,
        valuation: Valuation,
        notes: tuple[str, ...],
    ) -> BenchFigures:
        outcome, margin = asked.outcome, asked.outcome.expected_margin
        if asked.below_cost:
            # Nobody would start at this price; who has promised the work does it all the same.
            planned = valuation.walk_in_terms(_fair(valuation, least), self._fee)
            paid = valuation.walk_in_terms(asked.price, self._fee)
            outcome, margin = valuation.after(promised, paid, 0), kept_to(promised, planned, paid)
        return BenchFigures(
            least=least,
            break_even=asked.break_even,
            below_cost=asked.below_cost,
            expected_margin=margin,
            losses_in_20=outcome.losses_in_20,
            margin_per_hour=margin / max(outcome.expected_minutes / 60.0, 1e-9),
            minutes=outcome.expected_minutes,
            chance_finished=outcome.plan.chance_finished,
            best=self._best(valuation),
            notes=notes,
        )

    def _notes(self, asked: FixedQuote, scope: Scope) -> tuple[str, ...]:
        currency, working = self.shop.settings.currency, scope.inputs.working_price
        ruling = rule_on(self.unit, self.shop.catalogue, buying=False)
        notes = [f"{reason[:1].upper()}{reason[1:]}." for reason in ruling.reasons]
        if self.kind != "data-only" and asked.price > working:
            notes.append(
                f"It is worth {money_text(working, currency)} working: the price is more than that, say so."
            )
        rule = self.shop.settings.go_rule
        if "losses_in_20" in asked.outcome.misses(rule) and not asked.below_cost:
            notes.append(f"It loses money more often than the {rule.losses_in_20} in 20 of your rule.")
        for line in scope.part_lines():
            if not line.confirmed:
                name, price = self.shop.catalogue.parts[line.part].name, money_text(line.price, currency)
                notes.append(f"Price of the {name} not confirmed; {price} is assumed.")
        if self.set_aside:
            notes.append(f"Too many possibilities to weigh all; not counted on: {', '.join(self.set_aside)}.")
        return tuple(notes)


def _fair(valuation: Valuation, least: float | None) -> float:
    """A price the shop can live with: the work it pays for is what is promised at any price."""
    return 3.0 * valuation.inputs.working_price if least is None else least


def _stage(told: StageQuote) -> Stage:
    prices = (told.low, told.high, told.maximum)
    low, high, maximum = (float(p) if np.isfinite(p) else None for p in prices)
    return Stage(told.stage, low, high, maximum, told.refusal > 0)
