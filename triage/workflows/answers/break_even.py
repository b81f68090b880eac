"""What flips the verdict on one unit: part prices at once, everything else on request."""

from __future__ import annotations

from triage.domain.units.unit import Unit
from triage.policy.answer.assessment import PartFlip
from triage.policy.pricing.bisection import highest
from triage.policy.pricing.sensitivity import Swing, swings
from triage.policy.problem.forecast import UnitForecast, chance_interval
from triage.workflows.answers.pricing import PricedUnit, priced_at, unit_pricing
from triage.workflows.shop.shop import Shop

# The dearest parts, and those whose price is not confirmed, are the ones worth a look.
MOST_PARTS = 3
# Swings are drawn from fewer draws than the answer: a bar is read to a euro or two.
SWING_DRAWS = 200
# A part's turning point is found to this much money.
PRICE_STEP = 0.5


def part_flips(priced: PricedUnit) -> tuple[PartFlip, ...]:
    """Price of a part at which the verdict turns, for the parts that matter most; none of a unit refused."""
    pricing = priced.pricing
    if pricing.refused:
        return ()
    rule = pricing.shop.settings.go_rule
    lines = {line.part: line for parts in pricing.inputs.parts for line in parts if line.price > 0}
    ranked = sorted(lines.values(), key=lambda line: (line.confirmed, -line.price))[:MOST_PARTS]
    flips = []
    for line in ranked:

        def holds(price: float, part: str = line.part) -> bool:
            return priced.revalue(pricing.at_part_prices({part: price})).meets(rule)

        top = max(4.0 * line.price, pricing.inputs.working_price)
        turn = highest(holds, top, step=PRICE_STEP)
        flips_at = None if turn is None or turn >= top else turn
        flips.append(PartFlip(line.part, line.price, flips_at, line.confirmed))
    return tuple(flips)


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
    revalue = priced_at(pricing, ask).revalue
    return swings(pricing.valuation, revalue, shop.settings.go_rule, intervals)
