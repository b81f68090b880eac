"""An owner's device whose data are wanted, from description to quote: one function for screen and command."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import cached_property

from triage.domain.data_job import DataFacts
from triage.domain.money import from_minor, money_text, to_minor
from triage.domain.units.unit import Unit
from triage.errors import NoQuoteError
from triage.policy.answer.quote import BatteryConcern, BenchFigures, last_day, number_of
from triage.policy.answer.quote_scope import Scope
from triage.policy.answer.verdict import LEAST_MINUTES
from triage.policy.data_job.chances import DataChances, ReadingChances, reading_chances
from triage.policy.data_job.money import DataValuation, data_inputs
from triage.policy.data_job.quote import DataOffer, DataQuote, FeeWay
from triage.policy.data_job.steps import data_steps
from triage.policy.pricing.outcome import Outcome
from triage.policy.problem.forecast import UnitForecast
from triage.policy.problem.normalise import cell_hazard, cell_suspect, normalise, wet
from triage.policy.problem.ownership import NO_PRICE, rule_on
from triage.policy.solver.reduce import small_enough
from triage.workflows.answers.pricing import UnitPricing, unit_pricing
from triage.workflows.shop.shop import Shop

_REFER = "refer the owner to a licensed data recovery practice"
_RULED_OUT = {
    "chips": "the original processor and storage are not together, so the data cannot be decrypted",
    "touch": "nothing accepts the code: the touch does not work and no donor display is at hand",
    "code": "nobody knows the unlock code, and no lock is bypassed",
}


def quote_data(
    unit: Unit,
    shop: Shop,
    facts: DataFacts,
    fee: float = 0.0,
    price: float | None = None,
    customer: str = "",
    number: str = "",
    issued: date | None = None,
    forecast: UnitForecast | None = None,
) -> DataQuote:
    """Quote an owner for saving the data of one device.

    Parameters
    ----------
    fee : for trying, major units; 0 is no data, no fee.
    price, number, issued, forecast : as in `quote_unit`.

    Raises
    ------
    NoQuoteError : the data cannot be read here, the device may not be taken in, or no price meets
        the rule with this fee and none was set; then it names a fee and a price that would.
    PosteriorError : the fit behind the chances failed its checks.
    PlanTooLargeError : more unknowns and required repairs than can be planned.
    """
    settings, issued = shop.settings, issued or shop.today
    unit = normalise(unit, shop.catalogue)
    ruling = rule_on(unit, shop.catalogue, buying=False)
    if ruling.standing == NO_PRICE:
        raise NoQuoteError(f"no quote; do not accept it: {'; '.join(ruling.reasons)}")
    if facts.ruled_out:
        reasons = "; ".join(_RULED_OUT[condition] for condition in facts.ruled_out)
        raise NoQuoteError(f"no quote for the data: {reasons}; {_REFER}")
    if facts.referral == "accepted":
        raise NoQuoteError("no quote for the data: the owner takes them to a data recovery practice")
    told = _priced(unit, shop, facts, fee, forecast).at(price)
    offer = told.offer(issued)
    number = number or number_of(issued, unit, "data", offer.price, offer.fee, facts)
    return DataQuote(
        settings.shop, settings.currency, unit.name, unit.model, customer, number, issued, offer,
        told.chances, data_steps(unit, shop.catalogue, facts, told.scope.repairs()), told.priced.ways,
        told.figures(),
    )  # fmt: skip


def _priced(
    unit: Unit, shop: Shop, facts: DataFacts, fee: float, forecast: UnitForecast | None
) -> _PricedData:
    pricing = unit_pricing(unit, shop, walk_in=True, forecast=forecast)
    blocking = {entry.slug for entry in shop.catalogue.kind if entry.blocks_data}
    inputs = data_inputs(pricing.whole, blocking, shop.settings, facts.touch == "donor")
    inputs, space, set_aside = small_enough(inputs, layouts=shop.layouts)
    reading = reading_chances(facts, shop.settings.data, shop.supply.data)
    valuation = DataValuation(inputs, shop.settings, reading.outcomes, space)
    return _PricedData(pricing, facts, fee, reading, valuation, set_aside)


@dataclass(frozen=True)
class _PricedData:
    """A data job that can be priced with any fee.

    set_aside : what was left out so that the rest could be planned.
    """

    pricing: UnitPricing
    facts: DataFacts
    fee: float
    reading: ReadingChances
    valuation: DataValuation
    set_aside: tuple[str, ...]

    @cached_property
    def least(self) -> float | None:
        """Least price that meets the rule with the fee asked for."""
        return self.valuation.least_price(self.fee)

    def at(self, by_hand: float | None) -> _QuotedData:
        """The job at the least price, or at the shop's own."""
        price = self.least if by_hand is None else by_hand
        if price is None:
            raise NoQuoteError(self._which_would())
        return _QuotedData(self, price)

    @cached_property
    def ways(self) -> tuple[FeeWay, ...]:
        """No fee, the fee of the settings and the fee asked for; where none of them does, one that does."""
        fees = sorted({0.0, self.valuation.settings.data.trying_fee, self.fee})
        ways = tuple(self._way(fee) for fee in fees)
        if all(way.least is None for way in ways):
            enough = self.valuation.least_fee()
            ways += () if enough is None else (self._way(enough),)
        return ways

    def _way(self, fee: float) -> FeeWay:
        least = self.least if fee == self.fee else self.valuation.least_price(fee)
        shown = self.valuation.highest_price if least is None else least
        return FeeWay(fee, least, self.valuation.kept_at(shown, fee).losses_in_20)

    def _which_would(self) -> str:
        """Why no price meets the rule with this fee, and which fee and price would."""
        ways, currency = self.ways, self.valuation.settings.currency
        mine = next(way for way in ways if way.fee == self.fee)
        with_fee = (
            f"with a fee for trying of {money_text(self.fee, currency)}" if self.fee else "without a fee"
        )
        why = f"it would lose money in {mine.losses_in_20} of 20 such jobs"
        start = f"no price {with_fee} meets your rule ({why})"
        other = next((way for way in ways if way.least is not None), None)
        if other is None or other.least is None:
            return f"{start}, and no fee for trying makes one; {_REFER}"
        return (
            f"{start}; with a fee for trying of {money_text(other.fee, currency)}, "
            f"a price of {money_text(other.least, currency)} meets it"
        )


@dataclass(frozen=True)
class _QuotedData:
    """A data job at its price."""

    priced: _PricedData
    price: float

    @cached_property
    def scope(self) -> Scope:
        """The work that brings the board to run."""
        pricing = self.priced.pricing
        inputs = self.priced.valuation.inputs
        return Scope(pricing.unit, pricing.shop.catalogue, inputs, self.priced.valuation.promised.plan)

    @property
    def chances(self) -> DataChances:
        """Chance of each outcome, by the plan that is promised."""
        return DataChances(self.priced.valuation.promised.plan.chance_finished, self.priced.reading)

    def offer(self, issued: date) -> DataOffer:
        """What the owner is told."""
        unit, catalogue = self.priced.pricing.unit, self.priced.pricing.shop.catalogue
        settings = self.priced.valuation.settings
        quoting, fee = settings.quoting, self._paid(self.priced.fee)
        battery: BatteryConcern = "suspect" if cell_suspect(unit, catalogue) else "no concern"
        return DataOffer(
            price=self._paid(self.price),
            part_price=max(self._paid(self.price * settings.data.part_price_share), fee),
            fee=fee,
            facts=self.priced.facts,
            work=tuple(line for line in self.scope.work() if line.included),
            possible=self.scope.possible(),
            parts=self.scope.parts(),
            battery="hazard" if cell_hazard(unit, catalogue) else battery,
            wet=wet(unit, catalogue),
            copy_days=settings.data.copy_days,
            valid_until=last_day(issued, quoting.valid_days),
            valid_days=quoting.valid_days,
            answer_days=quoting.answer_days,
        )

    def figures(self) -> BenchFigures:
        """What the price means for the shop."""
        valuation, fee = self.priced.valuation, self.priced.fee
        outcome = valuation.kept_at(self.price, fee)
        margin = outcome.expected_margin
        covered = valuation.covers_cost(fee)
        below_cost = covered is None or self.price < covered - 0.005
        return BenchFigures(
            least=self.priced.least,
            break_even=covered,
            below_cost=below_cost,
            expected_margin=margin,
            losses_in_20=outcome.losses_in_20,
            margin_per_hour=60.0 * margin / outcome.expected_minutes
            if outcome.expected_minutes >= LEAST_MINUTES
            else None,
            minutes=outcome.expected_minutes,
            chance_finished=1.0 - self.chances.of("none"),
            best=None,
            notes=self._notes(outcome, below_cost),
        )

    def _notes(self, outcome: Outcome, below_cost: bool) -> tuple[str, ...]:
        pricing, rule = self.priced.pricing, self.priced.valuation.settings.go_rule
        notes = pricing.ownership_notes
        if self.priced.facts.irreplaceable and self.priced.facts.referral == "not-advised":
            notes.append("Irreplaceable data: advise a licensed data recovery practice before you touch it.")
        if "losses_in_20" in outcome.misses(rule) and not below_cost:
            notes.append(f"The risk of loss is above the {rule.losses_in_20} in 20 of your rule.")
        notes += pricing.unconfirmed_prices(self.scope.part_lines())
        if self.priced.set_aside:
            notes.append(f"Too complex to plan exactly; not counted on: {', '.join(self.priced.set_aside)}.")
        return tuple(notes)

    def _paid(self, amount: float) -> float:
        """Round money to what can be paid."""
        currency = self.priced.valuation.settings.currency
        return from_minor(to_minor(amount, currency), currency)
