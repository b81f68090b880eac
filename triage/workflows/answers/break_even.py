"""What flips the verdict on one unit: part prices at once, everything else on request."""

from __future__ import annotations

from triage.domain.units.unit import Unit
from triage.policy.answer.assessment import PartFlip
from triage.policy.pricing.bisection import highest
from triage.policy.pricing.sensitivity import Swing, swings
from triage.policy.problem.build import plan_inputs
from triage.policy.problem.forecast import UnitForecast, chance_interval
from triage.policy.solver.reduce import set_aside_alike
from triage.workflows.answers.pricing_desk import Priced, open_desk, price_purchase, price_walk_in
from triage.workflows.shop.shop import Shop

# The dearest parts, and those whose price is not confirmed, are the ones worth a look.
MOST_PARTS = 3
# Swings are drawn from fewer draws than the answer: a bar is read to a euro or two.
SWING_DRAWS = 200
# A part's turning point is found to this much money.
PRICE_STEP = 0.5


def part_flips(priced: Priced) -> tuple[PartFlip, ...]:
    """Price of a part at which the verdict turns, for the parts that matter most; none of a unit refused."""
    if priced.refused:
        return ()
    desk, rule = priced.desk, priced.desk.shop.settings.go_rule
    lines = {line.part: line for parts in desk.inputs.parts for line in parts if line.price > 0}
    ranked = sorted(lines.values(), key=lambda line: (line.confirmed, -line.price))[:MOST_PARTS]
    flips = []
    for line in ranked:

        def holds(price: float, part: str = line.part) -> bool:
            bench = desk.shop.bench(desk.unit, {part: price})
            changed = plan_inputs(desk.unit, desk.forecast, bench, owned=desk.owned)
            alike = set_aside_alike(changed, desk.inputs)
            return priced.revalue(desk.valuation.with_inputs(alike)).meets(rule)

        top = max(4.0 * line.price, desk.inputs.working_price)
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
    desk = open_desk(unit, shop, walk_in, forecast, SWING_DRAWS)
    priced = price_walk_in(desk) if walk_in else price_purchase(desk, ask)
    if priced.refused:
        return ()
    intervals = [
        (index, *chance_interval(told, desk.forecast)) for index, told in enumerate(desk.inputs.forecasts)
    ]
    return swings(desk.valuation, priced.revalue, shop.settings.go_rule, intervals)
