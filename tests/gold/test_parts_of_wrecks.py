"""Wrecks valued part by part, worked by hand first, with the arithmetic beside each.

Figures are those of the paper shop: a bench minute costs 1, opening 10 and board out 10 more, making a
battery safe 10, consumables 2; rule 25, 10 an hour, losses in at most 6 of 20. What damage does to parts
is the shipped catalogue's (common practice, no source); part prices and minutes are invented here.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.gold.paper import paper_forecast
from tests.gold.paper_shop import paper_shop
from tests.gold.worked import check, kinds, lines, worked
from triage.domain.shop.settings import Tax
from triage.domain.shop.yields import PartYield
from triage.domain.units.unit import Finding, Unit
from triage.policy.problem.build import plan_inputs
from triage.policy.problem.normalise import normalise
from triage.policy.problem.payoffs import PurchaseTerms
from triage.policy.solver.repair_plan import plan_space, solve_plan

BOARD = PartYield("main-board", 80.0, minutes=10.0, test_minutes=10.0, access="board-out")
DISPLAY = PartYield("display", 50.0, minutes=10.0, test_minutes=5.0)
CAMERAS = PartYield("cameras", 20.0, minutes=10.0, test_minutes=5.0)
HOUSING = PartYield("housing", 10.0, minutes=10.0, test_minutes=0.0)


def test_a_bulging_wreck_is_worth_its_board_and_mostly_its_display():
    # A cell that lifts the display (severity 2) has ruined it 15 in 100, and leaves .9 of the housing.
    # Display tested .85 x 50 - 15 = 27.5, untested .85 x 25 - 10 = 11.25: tested. Housing 9 - 10: left in.
    # Board 80 - 20 = 60, with 10 more to get at it. Made safe 10, opened 20: 87.5 - 30 = 57.5.
    # Bought at 10, consumables 2: 45.5, in 10 + 20 + 15 + 20 = 65 minutes: 42 an hour. A new cell works
    # 1 in 20 and is not tried. With the display gone: 80 - 65 - 12 = 3, no loss.
    # Limit: 55.5 - b = 25 -> 30.5, where the display gone (3 of 20) loses 17.5.
    unit = Unit("bulging", "middle", (Finding("cell-swollen"),))
    work = {("cell-swollen", "replace-cell"): (0.05, 30, 30)}
    answered = worked(unit, work, ask=10, yields=(BOARD, DISPLAY, HOUSING))
    check(answered, "take for parts", 45.5, 0, 65.0, 30.5)
    assert lines(answered) == pytest.approx(
        {"sold as parts": 122.5, "purchase price": -10, "bench time": -65, "consumables": -2}
    )
    assert kinds(answered)[-1] == "strip" and answered.steps[-1].minutes == pytest.approx(55.0)
    assert min(answered.dots) == pytest.approx(3.0) and max(answered.dots) == pytest.approx(53.0)
    found = answered.stripped
    assert [(part.part, part.take, part.minutes) for part in found.parts] == [
        ("main-board", "tested", 20.0), ("display", "tested", 15.0), ("housing", "leave", 10.0)
    ]  # fmt: skip
    assert [part.good for part in found.parts] == pytest.approx([1.0, 0.85, 1.0])
    assert [part.worth for part in found.parts] == pytest.approx([60.0, 27.5, -1.0])
    assert (found.minutes, found.worth) == (pytest.approx(20.0), pytest.approx(67.5))
    at_limit = worked(unit, work, ask=30.5, yields=(BOARD, DISPLAY, HOUSING))
    check(at_limit, "take for parts", 25.0, 3, 65.0, 30.5)


@pytest.mark.parametrize(
    "donor, margin, minutes, limit", [(False, 28.0, 20.0, 3.0), (True, 73.0, 25.0, 48.0)]
)
def test_a_dead_board_leaves_a_good_display_untested_unless_another_device_tests_it(
    donor, margin, minutes, limit
):
    # The processor is dead (severity 3): the board is worth nothing and the device does not start.
    # Display 100, good: untested 50 - 10 = 40; in a donor 100 - 15 = 85. Cameras untested 10 - 10 = 0:
    # left in. Opened 10, consumables 2: 28, or 73. Limit: that less 25.
    unit = Unit("dead board", "middle", (Finding("storage-or-processor-dead", 3),))
    work = {("storage-or-processor-dead", "change-storage-or-processor"): (0.02, 100, 100)}
    display = replace(DISPLAY, price=100.0, donor=donor)
    answered = worked(unit, work, ask=0, yields=(BOARD, display, CAMERAS))
    check(answered, "take for parts", margin, 0, minutes, limit)


def test_a_hacked_board_spoils_the_test_of_what_is_good():
    # Burnt pads of an earlier repair (severity 3): the board is good 2 in 10, and lets its parts be tested
    # 6 in 10. A hidden cracked joint, 4 in 10 (severity 2): then good 1 in 10, and starts 4 in 10.
    # Starts: .6 x (.6 + .4 x .4) = .456. Display 100, good: .456 x 100 + .544 x 50 = 72.8, less 15 = 57.8;
    # untested 40. Board good .2 x (.6 + .4 x .1) = .128, and testable too .12 x (.6 + .4 x .1 x .4) =
    # .07392: .07392 x 80 + .05408 x 40 = 8.1, less 20: left in. Opened 10: 47.8; bought at 20, consumables
    # 2: 25.8. Minutes 10 + 15. It brings 100 or 50: 53 or 3, never a loss. Limit: 45.8 - b = 25 -> 20.8.
    unit = Unit("hacked board", "middle", (Finding("prior-repair", 3),), working_price=5.0)
    work = {("joint-cracked", "reball-chip"): (0.1, 60, 60)}
    display = replace(DISPLAY, price=100.0)
    answered = worked(unit, work, ask=20, yields=(BOARD, display), hidden={"joint-cracked": 0.4})
    check(answered, "take for parts", 25.8, 0, 25.0, 20.8)
    assert sum(dot == pytest.approx(3.0) for dot in answered.dots) == 11  # .544 of them
    assert sum(dot == pytest.approx(53.0) for dot in answered.dots) >= 8


def test_a_cracked_display_fetches_less_for_sure_and_tax_goes_part_by_part():
    # Glass cracked across (severity 2): a panel that lights fetches .35. 100 x .35 = 35, certain. Board 80.
    # Book shares 100 and 80 of 180: bought at 36, the display carries 20 and the board 16.
    # Margin scheme, a fifth: (35 - 20) / 6 + (80 - 16) / 6 = 2.5 + 10.667; together it would be
    # (115 - 36) / 6 = 13.167 as well, but at 72 the display carries 40 > 35 and its loss offsets nothing:
    # 0 + (80 - 32) / 6 = 8 where 115 - 72 would bear 7.167.
    shop = paper_shop()
    yields = (replace(DISPLAY, price=100.0), BOARD)
    tiers = tuple(replace(tier, yields=yields) for tier in shop.prices.tier)
    shop = replace(shop, prices=replace(shop.prices, tier=tiers))
    unit = Unit("cracked", "middle", (Finding("display-glass-cracked"),), working_price=5.0)
    unit = normalise(unit, shop.catalogue)
    inputs = plan_inputs(unit, paper_forecast(unit, shop.catalogue, {}), shop.books_for(unit), True)
    for paid, tax in [(36.0, 2.5 + 64 / 6), (72.0, 8.0)]:
        terms = PurchaseTerms(inputs.sale, 0.0, paid, shop.settings.fees, Tax("second-hand-margin", 0.2))
        plan = solve_plan(plan_space(inputs.problem), terms)
        purse = plan.stop_purse(terms)
        assert (purse.price[0], purse.tax[0]) == (pytest.approx(115.0), pytest.approx(tax))
        # Opened twice 20, display 15, board 20: 55 minutes.
        assert plan.value == pytest.approx(115.0 - tax - 55.0)
