"""What flips the verdict on one unit: part prices at once, everything else on request."""

from __future__ import annotations

from dataclasses import replace

from triage.domain.units.unit import Unit
from triage.policy.answer.assessment import PartFlip
from triage.policy.answer.verdict import Settled
from triage.policy.pricing.bisection import highest
from triage.policy.pricing.sensitivity import Swing, swings
from triage.policy.problem.forecast import UnitForecast, chance_interval
from triage.workflows.answers.pricing import PricedUnit, priced_at, unit_pricing
from triage.workflows.shop.shop import Shop

# The dearest parts, and those whose price is not confirmed, are the ones worth a look.
MOST_PARTS = 3
# Swings are drawn from fewer draws than the answer: a bar is read to a euro or two.
SWING_DRAWS = 200
# Locks that can turn out to be off, or be taken off, before the shop pays.
_OPEN_LOCKS = ("cannot-tell", "locked-to-owner")
# A part's turning point is found to this much money.
PRICE_STEP = 0.5


def part_flips(priced: PricedUnit) -> tuple[PartFlip, ...]:
    """Price of a part at which the verdict turns, for the parts that matter most.

    None where ownership decides, and not money.
    """
    pricing = priced.pricing
    if pricing.ownership_decides:
        return ()
    rule = pricing.shop.settings.go_rule
    go = priced.decides(pricing.valuation).meets(rule)
    lines = {line.part: line for parts in pricing.inputs.parts for line in parts if line.price > 0}
    ranked = sorted(lines.values(), key=lambda line: (line.confirmed, -line.price))[:MOST_PARTS]
    flips = []
    for line in ranked:

        def holds(price: float, part: str = line.part) -> bool:
            return priced.decides(pricing.at_part_prices({part: price})).meets(rule)

        top = max(4.0 * line.price, pricing.inputs.working_price)
        turn = highest(holds, top, step=PRICE_STEP)
        # A dearer part stops a deal, a cheaper one makes it: never the other way.
        if turn is not None and go:
            turn = max(turn, line.price) if line.price - PRICE_STEP < turn < top else None
        elif turn is not None:
            turn = turn if turn < line.price else None
        flips.append(PartFlip(line.part, line.price, turn, line.confirmed))
    return tuple(flips)


def settled_ownership(
    unit: Unit, shop: Shop, ask: float | None = None, forecast: UnitForecast | None = None
) -> Settled | None:
    """Answer a unit for sale as if its lock were off and its numbers matched; None where that is no news."""
    owner = unit.ownership
    lock, numbers = owner.lock in _OPEN_LOCKS, owner.identity == "not-checked"
    clear = replace(
        owner, lock="clear" if lock else owner.lock, identity="agrees" if numbers else owner.identity
    )
    if clear == owner:
        return None
    priced = priced_at(unit_pricing(unit, shop, False, forecast), ask)
    then = priced_at(unit_pricing(replace(unit, ownership=clear), shop, False, forecast), ask)
    if then.pricing.ownership_decides or then.verdict is priced.verdict:
        return None
    removed = owner.lock == "locked-to-owner"
    return Settled(lock, numbers, removed, then.verdict, then.pricing.limit)


def what_flips(
    unit: Unit,
    shop: Shop,
    ask: float | None = None,
    walk_in: bool = False,
    forecast: UnitForecast | None = None,
) -> tuple[Swing, ...]:
    """Change one thing at a time and say where go becomes no-go; widest effect first.

    Takes about a second for a typical unit: asked for, not shown at once.
    """
    pricing = unit_pricing(unit, shop, walk_in, forecast, SWING_DRAWS)
    if pricing.refused:
        return ()
    intervals = [
        (index, *chance_interval(told, pricing.forecast))
        for index, told in enumerate(pricing.inputs.forecasts)
    ]
    priced = priced_at(pricing, ask)
    found = swings(pricing.valuation, priced.revalue, shop.settings.go_rule, intervals, priced.decides)
    return tuple(replace(one, flips_at=None) for one in found) if pricing.ownership_decides else found
