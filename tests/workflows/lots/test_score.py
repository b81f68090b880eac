"""A lot scored: the same numbers as one unit at a time, whatever else is in the lot."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from triage.domain.units.lot_file import read_lot, read_lot_text
from triage.errors import PlanTooLargeError
from triage.policy.pricing.bisection import highest
from triage.policy.pricing.valuation import highest_bid
from triage.policy.solver.reduce import small_enough
from triage.workflows.answers import pricing
from triage.workflows.answers.assess import assess
from triage.workflows.answers.pricing import unit_pricing
from triage.workflows.lots.score import score_lot
from triage.workflows.shop.shop import open_shop

SHOP = open_shop(today=date(2026, 11, 25))
LOT = read_lot(Path(__file__).parents[3] / "synthetic_cases" / "lot.csv", SHOP.catalogue, SHOP.prices)
CLOSE = {"rel": 1e-9, "abs": 1e-9}
# Few states each, and what may befall a row: a lock, unchecked numbers, readings, suspicions, no price.
# The parts of g have one value together.
QUICK = """\
unit,tier,cause,battery,lock,identity,ask,working_price,parts_value,findings,checks
a,upper,dropped,,clear,agrees,40,300,,display-glass-cracked/2;back-glass-cracked/1,
b,middle,dropped,,clear,agrees,4,,,display-glass-cracked/3,
c,top,wet,,locked-to-another,agrees,60,,,microphone-dead,
d,upper,worn,sound,clear,not-checked,30,280,,cell-worn,
e,middle,worn,sound,clear,agrees,,,,cell-worn;earpiece-weak,
f,top,dropped,sound,clear,agrees,90,,,cell-worn/2/8 in 20;camera-dead,
g,upper,,,clear,agrees,20,,110,storage-or-processor-dead,
h,upper,dropped,sound,clear,agrees,45,250,,port-pins-damaged/2/12 in 20;torch-dead,usb-draw-reading=found
"""


def same_as_alone(rows):
    """Score rows together, and each alone in a shop that has seen nothing before it."""
    lot = score_lot(replace(LOT, rows=tuple(rows)), replace(SHOP))
    assert lot.labels == tuple(row.unit.name for row in rows)
    for place, row in enumerate(rows):
        told = assess(row.unit, replace(SHOP), 0.0 if row.ask is None else row.ask)
        assert lot.verdicts[place] == told.verdict, row.unit.name
        assert lot.minutes[place] == pytest.approx(told.minutes, **CLOSE)
        if told.limit is None:
            assert np.isnan(lot.highest_bids[place])
        else:
            assert lot.highest_bids[place] == pytest.approx(told.limit, **CLOSE)
        if told.expected_margin is not None:  # told of every unit that ownership lets us price
            assert lot.margins[place] == pytest.approx(told.expected_margin, **CLOSE)
            assert round(20 * lot.loss_chances[place]) == pytest.approx(told.losses_in_20, abs=1)
    return lot


def test_scored_together_as_alone():
    rows = read_lot_text(QUICK, "quick.csv", SHOP.catalogue, SHOP.prices).rows
    lot = same_as_alone(rows)
    assert len(set(lot.verdicts)) == 4, lot.verdicts  # each kind of answer is among them
    assert np.isnan(lot.prices[4]) and np.isnan(lot.highest_bids[2])
    assert np.isnan(lot.parts_margins[2]) and np.isfinite(lot.parts_margins[[0, 1, 3]]).all()


def test_what_limits_a_price_is_what_a_higher_price_needs_relaxed():
    """Without the parts named more may be paid; without only the others, no cent more."""
    anything = {"margin": -1e6, "margin_per_hour": -1e6, "losses_in_20": 20}
    rows = read_lot_text(QUICK, "quick.csv", SHOP.catalogue, SHOP.prices).rows
    lot = score_lot(replace(LOT, rows=tuple(rows)), replace(SHOP))
    seen = set()
    for place, row in enumerate(rows):
        limit, named = lot.highest_bids[place], lot.limited_by[place].split()
        assert bool(named) == np.isfinite(limit), row.unit.name
        if not named:
            continue
        seen |= set(named)
        rule = SHOP.settings.go_rule

        def most(relaxed, row=row, rule=rule):
            settings = replace(SHOP.settings, go_rule=replace(rule, **{n: anything[n] for n in relaxed}))
            return unit_pricing(row.unit, replace(SHOP, settings=settings)).limit

        assert most(named) > limit
        assert most(set(anything) - set(named)) == pytest.approx(limit, **CLOSE)
    assert len(seen) >= 2, seen


@pytest.mark.slow
def test_two_hundred_scored_together_as_alone():
    same_as_alone(LOT.rows[:200])


def test_draws_carry_what_is_not_known():
    rows = read_lot_text(QUICK, "quick.csv", SHOP.catalogue, SHOP.prices).rows
    lot = score_lot(replace(LOT, rows=rows), SHOP)
    assert lot.margin_draws.shape == (len(rows), 1000)
    assert lot.margin_draws.mean(axis=1) == pytest.approx(lot.margins, **CLOSE)
    repaired = lot.labels.index("f")
    margins = unit_pricing(rows[repaired].unit, SHOP).valuation.bought_at(rows[repaired].ask).margins
    # Law of total variance: what is not known and luck make up the spread of the paths.
    both = lot.margin_draws[repaired].var() + lot.luck_variances[repaired]
    assert both == pytest.approx(margins.var(), rel=1e-9)
    stripped = lot.labels.index("g")
    assert lot.margins[stripped] == pytest.approx(lot.parts_margins[stripped], **CLOSE)
    assert lot.margin_draws[stripped].std() == lot.luck_variances[stripped] == 0.0


def test_what_comes_of_an_open_right_is_each_units_own_luck():
    header, *rows = QUICK.splitlines()
    f = next(row for row in rows if row.startswith("f"))
    doubted = f.replace("f,", "i,").replace("agrees", "not-checked") + ",auction"
    text = "\n".join([f"{header},source", f"{f},", doubted])
    rows = read_lot_text(text, "open.csv", SHOP.catalogue, SHOP.prices).rows
    lot = same_as_alone(rows)
    pricing = unit_pricing(rows[1].unit, SHOP)
    share = SHOP.settings.right_to_sell.auction
    clear = share.not_listed * share.not_enrolled * share.not_listed_later
    assert pricing.right.clear == pytest.approx(clear) and lot.margins[1] < lot.margins[0]
    assert lot.highest_bids[1] < lot.highest_bids[0] and lot.parts_margins[1] < lot.parts_margins[0]
    # What is shared with other units shrinks with the chance that its plan is played; the rest is luck.
    moved = lot.margin_draws - lot.margins[:, None]
    assert moved[1] == pytest.approx(clear * moved[0], abs=1e-6)
    spread = pricing.outcome_at(rows[1].ask).margins.var()
    assert lot.luck_variances[1] == pytest.approx(spread - moved[1].var(), rel=1e-9)
    assert lot.luck_variances[1] > lot.luck_variances[0]


def test_a_unit_that_cannot_be_planned_is_set_aside_with_its_reason(monkeypatch):
    rows = read_lot_text(QUICK, "quick.csv", SHOP.catalogue, SHOP.prices).rows[:2]

    # Row a: two required repairs; b: one.
    def refuses(inputs, **more):
        if len(inputs.problem.items) > len(unit_pricing(rows[1].unit, SHOP).whole.problem.items):
            raise PlanTooLargeError("too many unknowns")
        return small_enough(inputs, **more)

    monkeypatch.setattr(pricing, "small_enough", refuses)
    lot = score_lot(replace(LOT, rows=rows), SHOP)
    assert lot.labels == ("b",)
    assert "too many unknowns" in lot.bad_rows[0].faults[0].wrong


@pytest.mark.parametrize("name", ["a", "f", "g"])
def test_the_highest_bid_is_where_one_price_after_another_turns(name):
    rows = read_lot_text(QUICK, "quick.csv", SHOP.catalogue, SHOP.prices).rows
    (unit,) = (row.unit for row in rows if row.unit.name == name)
    valuation, rule = unit_pricing(unit, SHOP).valuation, SHOP.settings.go_rule
    found = highest_bid(valuation, rule)
    top = float(valuation.inputs.sale.mean(axis=1).max())
    assert found is not None
    assert found == highest(lambda paid: valuation.bought_at(paid).meets(rule), top)
