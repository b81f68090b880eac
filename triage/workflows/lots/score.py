"""A lot scored: every unit by the same pricing that answers for one.

No unit is simplified for being one of many. Many are quick because they share:
forecasts of the same repair, and layouts of plans of the same shape.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np

from triage.domain.units.lot import BadRow, Lot, LotRow
from triage.errors import Fault, PlanTooLargeError
from triage.lot_selection.scored_lot import ScoredLot
from triage.lot_selection.scored_unit import ScoredUnit, gathered
from triage.policy.answer.verdict import LEAVE, PARTS
from triage.policy.pricing.right_to_sell import endings
from triage.policy.pricing.salvage import (
    strip_bid,
    strip_margin,
    strip_meets,
    strip_minutes,
    strip_misses,
)
from triage.policy.pricing.salvage_dominance import parts_whatever
from triage.policy.pricing.valuation import top_bid
from triage.policy.problem.open_right import without_parts
from triage.policy.solver.repair_plan import STOP
from triage.policy.solver.spread import margin_by_draw
from triage.reports.wording.prices import short_origin
from triage.workflows.answers.pricing import PricedUnit, UnitPricing, priced_at, unit_pricing
from triage.workflows.shop.shop import Shop

# A loss is a margin below this: a rounding error is not a loss.
_HALF_A_CENT = 0.005
# Units scored between two words of how far it is.
_TELL_EVERY = 20


def score_lot(lot: Lot, shop: Shop, tell: Callable[[int, int], None] | None = None) -> ScoredLot:
    """Score every unit of a lot at its asking price.

    Parameters
    ----------
    tell : is told now and then how many units are scored, of how many.

    Returns
    -------
    ScoredLot : units in file order; one that cannot be planned joins the bad rows.
    """
    units: list[ScoredUnit] = []
    bad = list(lot.bad_rows)
    for done, row in enumerate(lot.rows):
        if tell and done % _TELL_EVERY == 0:
            tell(done, len(lot.rows))
        scored = score_row(row, shop, lot.name)
        if isinstance(scored, ScoredUnit):
            units.append(scored)
        else:
            bad.append(scored)
    if tell:
        tell(len(lot.rows), len(lot.rows))
    return gathered(units, sorted(bad, key=lambda row: row.line), shop.settings.currency)


def score_rows(rows: Iterable[LotRow], shop: Shop, name: str = "") -> list[ScoredUnit | BadRow]:
    """Score some rows for a table: without the draws, which a choice needs and a table does not."""
    return [score_row(row, shop, name, with_draws=False) for row in rows]


def score_row(row: LotRow, shop: Shop, name: str = "", with_draws: bool = True) -> ScoredUnit | BadRow:
    """Score one row at its asking price, or at 0 where it has none.

    Parameters
    ----------
    name : of the file, for faults.
    with_draws : work out how the margin moves with what is not known, and with luck.
    """
    ask = 0.0 if row.ask is None else row.ask
    pricing = unit_pricing(row.unit, shop)
    if pricing.right.clear >= 1.0 and parts_whatever(pricing.whole, shop.settings, shop.layouts):
        return _as_parts(row, pricing, ask, with_draws)
    try:
        priced = priced_at(pricing, ask, brief=True)
    except PlanTooLargeError as problem:
        wrong, allowed = f"cannot be planned: {problem}", "less suspected damage and fewer symptoms"
        fault = Fault(name, row.line, "findings", wrong, allowed)
        return BadRow(row.line, row.unit.name, row.text, (fault,))
    outcome = priced.outcome
    draws, luck = _spread(priced) if with_draws else (np.zeros(0), np.nan)
    return ScoredUnit(
        line=row.line,
        label=row.unit.name,
        tier=row.unit.tier,
        price=np.nan if row.ask is None else row.ask,
        margin=outcome.expected_margin,
        minutes=outcome.expected_minutes,
        highest_bid=np.nan if pricing.limit is None else pricing.limit,
        loss_chance=float((outcome.margins < -_HALF_A_CENT).mean()),
        parts_margin=np.nan if pricing.refused else _stripped(pricing, ask),
        verdict=priced.verdict,
        exact=not pricing.set_aside,
        margin_draws=draws,
        luck_variance=luck,
        priced_by=_priced_by(row, shop),
        limited_by=" ".join(pricing.limited_by),
    )


def _stripped(pricing: UnitPricing, paid: float) -> float:
    """Margin of stripping it at once, money; what is open of the right to sell it is counted."""
    inputs, right = pricing.inputs, pricing.right
    inputs = without_parts(inputs, right.hand_over) if right.bars_stripping else inputs
    settings, outlay = pricing.shop.settings, pricing.terms_at(paid).upfront
    work = strip_minutes(inputs, settings, paid) * inputs.problem.rate
    value = strip_margin(inputs, settings, paid) + outlay
    return endings(right, paid).expected(value, work) - outlay


def _as_parts(row: LotRow, pricing: UnitPricing, ask: float, with_draws: bool) -> ScoredUnit:
    """A unit that nothing but stripping can be best for: what its plan would say, without the plan."""
    inputs, settings = pricing.whole, pricing.shop.settings
    rule = settings.go_rule
    margin, limit, verdict = strip_margin(inputs, settings, ask), None, LEAVE
    if not pricing.refused:
        if strip_meets(inputs, settings, rule, 0.0):
            limit = strip_bid(inputs, settings, rule, 0.0, top_bid(inputs))
        verdict = PARTS if strip_meets(inputs, settings, rule, ask) else LEAVE
    draws = int(pricing.forecast.draw.max()) + 1 if with_draws else 0
    return ScoredUnit(
        line=row.line,
        label=row.unit.name,
        tier=row.unit.tier,
        price=np.nan if row.ask is None else row.ask,
        margin=margin,
        minutes=strip_minutes(inputs, settings, ask),
        highest_bid=np.nan if limit is None else limit,
        loss_chance=float(margin < -_HALF_A_CENT),
        parts_margin=np.nan if pricing.refused else margin,
        verdict=verdict,
        exact=True,
        margin_draws=np.full(draws, margin),
        luck_variance=0.0,
        priced_by=_priced_by(row, pricing.shop),
        limited_by="" if limit is None else " ".join(strip_misses(inputs, settings, rule, limit + 0.01)),
    )


def _priced_by(row: LotRow, shop: Shop) -> str:
    return short_origin(shop.price_origin(row.unit), shop.today, shop.settings.price_age_days)


def _spread(priced: PricedUnit) -> tuple[np.ndarray, float]:
    """Expected margin given each posterior draw, shape (draw,), and the variance that is luck.

    Where check results are in hand they weigh the draws; every unit has the
    same draws, each as likely as another, so its margins are moved together
    until their plain mean is the expected margin.
    """
    outcome, clear = priced.outcome, priced.pricing.right.clear
    expected = outcome.expected_margin
    certain = not priced.pricing.inputs.problem.parts  # parts valued together, not one by one
    if certain and outcome.plan.act(0) == STOP:
        draws = np.full(int(priced.pricing.forecast.draw.max()) + 1, expected)
        return draws, 0.0 if clear >= 1.0 else float(outcome.margins.var())
    by_draw, weight = margin_by_draw(outcome.plan, priced.terms)
    by_draw = clear * by_draw  # what comes of its right is its own luck: no other unit shares it
    not_known = float(weight @ (by_draw - weight @ by_draw) ** 2)
    luck = max(float(outcome.margins.var()) - not_known, 0.0)
    return by_draw - by_draw.mean() + expected, luck
