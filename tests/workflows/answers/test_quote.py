"""Quotes worked on paper; figures are those of the paper shop (`tests/gold/paper_shop.py`)."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from scipy.special import lambertw

from tests.gold.paper_shop import paper_shop
from tests.workflows.owners_device import PROVEN, SCREEN, device, quoted
from triage.domain.shop.settings import Acceptance, Quoting
from triage.domain.units.unit import Finding, Ownership
from triage.errors import NoQuoteError
from triage.workflows.answers.quote import quote_unit


def test_no_fix_no_fee_by_hand():
    # open 10, display 30 + 40 at .8; works: q - 20; not: back together 15. Consumables 2.
    # .8 q - 16 - 80 - 3 - 2 = .8 q - 101 >= 25 -> 157.50; fails 4 in 20. 40 + .8 x 20 + .2 x 15 = 59 min.
    quote = quoted(device("display-panel-dead"), SCREEN)
    assert quote.offer.price == quote.offer.ceiling == pytest.approx(157.5)
    assert quote.bench.expected_margin == pytest.approx(25.0, abs=0.005)
    assert (quote.bench.losses_in_20, quote.bench.minutes) == (4, pytest.approx(59))
    assert quote.bench.chance_finished == pytest.approx(0.8)
    # Handed back at once it loses the 2; starting is better from .8 q - 101 > -2 -> 123.75 on.
    assert quote.bench.break_even == pytest.approx(123.76, abs=0.011)
    assert (quote.offer.fee, quote.bench.below_cost) == (0.0, False)


def test_a_diagnostic_fee_lowers_the_price_by_what_failures_pay():
    # .2 x 20 = 4 more from failures: .8 q - 97 >= 25 -> 152.50.
    quote = quoted(device("display-panel-dead"), SCREEN, "diagnostic-fee")
    assert quote.offer.price == pytest.approx(152.5, abs=0.011) and quote.offer.fee == 20.0


def test_a_fee_never_raises_the_price():
    # Where the battery turns out bent (4 in 20) a second repair follows, which works in half of these.
    # With a fee it pays to stop there, which loses a little; by the rule alone that would ask 20 more.
    work = SCREEN | {("cell-bent", "replace-cell"): (0.5, 30, 30)}
    unit, hidden = device("display-panel-dead"), {"cell-bent": 0.2}
    free, with_fee = (quoted(unit, work, kind, hidden=hidden) for kind in ("fixed", "diagnostic-fee"))
    assert free.offer.price == with_fee.offer.price == pytest.approx(217.51)
    assert with_fee.bench.expected_margin >= free.bench.expected_margin
    assert any("6 in 20" in note for note in with_fee.bench.notes)


def test_a_price_below_cost_is_said_to_be_and_costs_what_the_promise_costs():
    # At 100 the promised work is done all the same: .8 x 100 - 101 = -21; gains never: 20 of 20 lose
    # but for the .8 that bring 100 - 20 - 80 - 2 = -2.
    quote = quoted(device("display-panel-dead"), SCREEN, price=100.0)
    assert quote.offer.price == 100.0 and quote.bench.below_cost
    assert quote.bench.expected_margin == pytest.approx(-21.0)
    assert quote.bench.losses_in_20 == 20
    assert quote.bench.least == pytest.approx(157.5)


def test_a_price_above_cost_is_not_below_it():
    # .8 x 200 - 101 = 59.
    quote = quoted(device("display-panel-dead"), SCREEN, price=200.0)
    assert quote.bench.expected_margin == pytest.approx(59.0) and not quote.bench.below_cost


@pytest.mark.parametrize(
    ("ownership", "words"),
    [
        (Ownership(lock="locked-to-another"), "its activation lock belongs to somebody"),
        (Ownership(identity="mismatch"), "serial numbers or IMEI do not match"),
        (Ownership(listed=True), "block list"),
    ],
)
def test_ownership_refuses_before_any_price(ownership, words):
    unit = device("display-panel-dead", ownership=ownership)
    with pytest.raises(NoQuoteError, match=words):
        quoted(unit, SCREEN, price=500.0)
    # Nothing is forecast for it either: the paper shop has no draws to forecast from.
    with pytest.raises(NoQuoteError, match=words):
        quote_unit(unit, paper_shop(), "fixed")


def test_the_owner_s_own_lock_refuses_nothing():
    assert quoted(device("display-panel-dead", "account-locked"), SCREEN).offer.price > 0


def test_where_no_price_covers_it_one_may_be_set_by_hand():
    # At .5 it loses in 10 of 20 at any price: the rule takes 6.
    work = {("display-panel-dead", "swap-display"): (0.5, 30, 30)}
    with pytest.raises(NoQuoteError, match="enter your own price"):
        quoted(device("display-panel-dead"), work)
    quote = quoted(device("display-panel-dead"), work, price=300.0)
    assert quote.bench.least is None and quote.bench.losses_in_20 == 10
    # .5 x 300 - .5 x 20 - 80 - .5 x 15 - 2 = 50.50
    assert quote.bench.expected_margin == pytest.approx(50.5)
    assert any("6 in 20" in note for note in quote.bench.notes)


def test_an_optional_function_lowers_the_price_when_it_is_lost():
    # At 600 the camera (15 + 25 at .8) is worth the try: 15 % of the price hangs on it.
    work = SCREEN | {("camera-dead", "change-camera"): (0.8, 15, 15)}
    quote = quoted(device("display-panel-dead", "camera-dead", working_price=600), work, price=500.0)
    assert quote.offer.lost == ("camera",)
    assert quote.offer.reduced == (pytest.approx(425.0), pytest.approx(350.0))
    assert [line.included for line in quote.offer.work] == [True, True]


def test_what_is_not_worth_doing_is_no_part_of_the_price():
    # The camera adds .15 q x .5 = 12 at q 158 and costs 40: passed over, so the price is that of
    # the display alone.
    work = SCREEN | {("camera-dead", "change-camera"): (0.5, 15, 15)}
    quote = quoted(device("display-panel-dead", "camera-dead"), work)
    assert quote.offer.price == pytest.approx(157.5)
    assert quote.offer.lost == () and quote.offer.reduced is None
    screen, camera = quote.offer.work
    assert screen.included and not camera.included and "Left unrepaired" in camera.done
    assert [part.name for part in quote.offer.parts] == ["screen", "adhesive and seal"]


def test_stages_narrow_and_the_ceiling_is_their_highest():
    # A joint cracked (1 in 4), seen with the shields off, needs 90 + 3 at .9 more.
    work = SCREEN | {("joint-cracked", "reball-chip"): (0.9, 90, 90)}
    work[("display-panel-dead", "swap-display")] = (1.0, 30, 30)
    quote = quoted(
        device("display-panel-dead", "prior-repair"), work, "staged", hidden={"joint-cracked": 0.25}
    )
    counter, opened, board = quote.offer.stages
    assert [stage.name for stage in quote.offer.stages] == ["counter", "opened", "board level"]
    assert counter.low == counter.high == counter.maximum == quote.offer.price
    assert (opened.low, opened.maximum) == (counter.low, counter.maximum)
    # Nothing found: open 10, display 70, finish 20, consumables 2: q = 102 + 25.
    assert board.low == pytest.approx(127.0, abs=0.011)
    assert board.low < quote.offer.price < board.maximum
    assert quote.offer.ceiling == pytest.approx(board.maximum, abs=0.005)
    assert quote.offer.possible == ("Solder joints under a chip have cracked and the chip loses contact.",)


def test_a_price_by_hand_is_the_price_at_the_counter():
    quote = quoted(device("display-panel-dead"), SCREEN, "staged", price=300.0)
    assert quote.offer.stages[0].low == 300.0 and quote.offer.ceiling == 300.0


def test_the_price_that_earns_most_is_lamberts():
    # One sure repair: the margin is q - 102, a line, so the closed form holds (see
    # tests/policy/pricing/test_quote_prices.py): q* = c + (1 + W(exp(b (m - c) - 1))) / b, from about 123 up.
    work = {("display-panel-dead", "swap-display"): (1.0, 30, 30)}
    quoting = Quoting(acceptance=Acceptance(half_say_yes=0.9, steepness=10.0))
    quote = quoted(device("display-panel-dead"), work, settings={"quoting": quoting})
    cost, slope, middle = 102.0, 10.0 / 200.0, 180.0
    closed = cost + (1 + lambertw(np.exp(slope * (middle - cost) - 1)).real) / slope
    assert quote.bench.best.price == pytest.approx(closed, abs=0.01)
    without = quoted(device("display-panel-dead"), work)
    assert without.bench.best is None and without.offer == quote.offer


def test_days_follow_the_settings():
    quoting = Quoting(valid_days=10, answer_days=21)
    quote = quoted(
        device("display-panel-dead"), SCREEN, issued=date(2026, 12, 28), settings={"quoting": quoting}
    )
    assert quote.offer.valid_until == date(2027, 1, 7)
    assert (quote.offer.answer_days, quote.offer.warranty_days) == (21, 90)


def test_a_number_is_made_once_and_kept_when_given():
    first, again = (quoted(device("display-panel-dead"), SCREEN) for _ in range(2))
    assert first.number == again.number and first.number.startswith("2026-11-25-")
    assert quoted(device("display-panel-dead"), SCREEN, price=300.0).number != first.number
    assert quoted(device("display-panel-dead"), SCREEN, number="77").number == "77"


def test_what_is_signed_is_rounded_to_money_that_can_be_paid():
    offer = quoted(device("display-panel-dead"), SCREEN, price=157.504).offer
    assert offer.price == offer.ceiling == 157.5


def test_battery_liquid_and_worth_reach_the_offer():
    swollen = device("cell-swollen")
    work = {("cell-swollen", "replace-cell"): (1.0, 30, 30)}
    assert quoted(swollen, work).offer.battery == "hazard"
    bent = device("frame-bent")
    offer = quoted(bent, {("frame-bent", "straighten-frame"): (0.95, 60, 60)}).offer
    assert offer.battery == "suspect"
    sound = quoted(replace(device("display-panel-dead"), battery="sound"), SCREEN).offer
    assert (sound.battery, sound.wet, sound.over_worth) == ("no concern", False, False)
    wet = quoted(device("display-panel-dead", cause="wet", working_price=150), SCREEN).offer
    assert wet.wet and wet.over_worth


def test_proof_and_unconfirmed_prices_are_noted_for_the_bench():
    unit = device("port-pins-damaged", ownership=replace(PROVEN, proof_recorded=False))
    quote = quoted(unit, {("port-pins-damaged", "swap-charge-board"): (0.95, 20, 20)})
    assert any("owner's proof" in note for note in quote.bench.notes)
    assert any("charge board not confirmed" in note for note in quote.bench.notes)
    assert quote.offer.part_days == (20.0, 20.0)


def test_suspected_damage_and_a_cause_to_be_traced_are_named():
    unit = device(Finding("antenna-flex-torn", chance=0.4), symptoms=("no-power",))
    work = {
        ("antenna-flex-torn", "change-antenna-flex"): (0.95, 20, 20),
        ("cell-deep-discharged", "replace-cell"): (1.0, 20, 20),
    }
    quote = quoted(unit, work, causes={"no-power": {"cell-deep-discharged": 0.95}})
    antenna, cause = quote.offer.work
    assert not antenna.seen and antenna.included
    assert cause.wrong == "No power, no sign of life." and "look for the cause" in cause.done
