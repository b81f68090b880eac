"""What would change the verdict, by pencil: which side of today's value it lies on, and what it is for."""

from __future__ import annotations

from dataclasses import dataclass, replace

import pytest

from tests.gold.paper import paper_forecast
from tests.gold.paper_shop import paper_shop
from tests.gold.worked import worked
from triage.domain.shop.settings import GoRule
from triage.domain.units.unit import Finding, Ownership, Unit
from triage.policy.answer.assessment import Verdict
from triage.policy.pricing.sensitivity import Turn
from triage.policy.problem.normalise import normalise
from triage.reports.wording.step import at_price, flip_lines, settled_words
from triage.workflows.answers.assess import assess
from triage.workflows.answers.break_even import settled_ownership, what_flips

PORT = Unit("port", "middle", (Finding("port-pins-damaged"),))
SWAP = {("port-pins-damaged", "swap-charge-board"): (0.95, 20, 20)}
ANTENNA = Unit("antenna", "middle", (Finding("antenna-flex-torn"),))
FLEX = {("antenna-flex-torn", "change-antenna-flex"): (0.9, 30, 30)}
UNCHECKED = Ownership("cannot-tell", "not-checked")


def test_a_declined_device_turns_at_a_cheaper_part():
    # V = 143 - x for a charge board at x (see the gold unit of that name). Ask 110: 143 - x - 112 >= 25
    # holds up to x = 6; the board costs 15.
    answered = worked(PORT, SWAP, ask=110)
    assert answered.verdict is Verdict.LEAVE
    (flip,) = (one for one in answered.flips if one.part == "charge-board")
    assert flip.flips_at == pytest.approx(6.0, abs=0.5)
    (line,) = flip_lines(answered, paper_shop().catalogue)
    assert "a price of €6.00 or less would change the verdict (price now €15.00" in line


def test_an_owners_device_turns_where_no_quote_below_its_worth_is_left():
    # At its resale value, 200, the flex at x earns -40 - x + .9 x 180 - .1 x 15 - 2 = 118.5 - x: the rule
    # wants 25, so x = 93.5. At today's lowest quote any dearer flex would break the rule: that is no news.
    answered = worked(ANTENNA, FLEX, walk_in=True)
    assert answered.verdict is Verdict.TAKE
    (flip,) = answered.flips
    assert flip.flips_at == pytest.approx(93.5)


def test_a_device_without_an_asking_price_turns_where_no_price_is_left():
    # Bought for nothing: -40 - x + .9 x 180 + .1 x 40 - 2 = 124 - x >= 25 up to 99. Stripped at once it
    # keeps 60 - 20 - 2 = 38 >= 25 whatever the flex costs: no price of it changes the verdict.
    (flip,) = worked(ANTENNA, FLEX).flips
    assert flip.flips_at is None
    poor = replace(ANTENNA, parts_value=20.0)  # now stripping brings -2
    # -40 - x + 162 + .1 x 0 - 2 = 120 - x >= 25 up to 95.
    (flip,) = worked(poor, FLEX).flips
    assert flip.flips_at == pytest.approx(95.0)


@dataclass(frozen=True)
class Told:
    """An outcome by hand."""

    expected_margin: float
    held: bool

    def meets(self, rule):
        return self.held


RULE = GoRule(25.0, 10.0, 6)


@pytest.mark.parametrize(
    ("go", "below", "above", "point"),
    [
        (True, (10.0, False), (90.0, True), 0.5),  # worse below: it stops there
        (True, (90.0, False), (95.0, True), None),  # a better margin that fails the rule stops nothing
        (False, (10.0, True), (90.0, False), None),  # a worse margin that meets it makes nothing
        (False, (10.0, False), (90.0, True), 1.5),
    ],
)
def test_a_turning_point_is_never_on_the_wrong_side(go, below, above, point):
    def told(x):
        return Told(*(below if x < 0.5 else above if x > 1.5 else (50.0, go)))

    found = Turn(lambda x: told(x), RULE).point(lambda x: x, 1.0, (0.0, 2.0))
    assert found == (None if point is None else pytest.approx(point, abs=1 / 2**8))


def settled(unit, ask):
    shop = paper_shop()
    unit = normalise(unit, shop.catalogue)
    return settled_ownership(unit, shop, ask, paper_forecast(unit, shop.catalogue, FLEX))


def test_settled_ownership_is_named_where_it_changes_the_verdict():
    # Unchecked: no price, so it is settled first. Settled, it is the torn antenna: 91, and a buy at 60.
    found = settled(replace(ANTENNA, ownership=UNCHECKED), 60)
    assert (found.lock, found.numbers, found.removed, found.verdict) == (True, True, False, Verdict.TAKE)
    assert found.limit == pytest.approx(91.0)
    assert settled_words(found, "EUR") == (
        "No activation lock and matching serial number and IMEI: the verdict would be buy at €91.00 or less"
    )
    # Too dear whatever the numbers say: settling them is no news.
    assert settled(replace(ANTENNA, ownership=Ownership("clear", "not-checked")), 150) is None


def test_the_sellers_own_lock_is_named_and_a_listed_device_is_not():
    own = settled(replace(ANTENNA, ownership=Ownership("locked-to-owner")), 60)
    assert settled_words(own, "EUR").startswith("The activation lock removed by the seller: the verdict")
    for ownership in (
        Ownership("locked-to-another"),
        Ownership("cannot-tell", "mismatch"),
        Ownership("locked-to-owner", listed=True),
        Ownership(),
    ):
        assert settled(replace(ANTENNA, ownership=ownership), 60) is None


def test_while_ownership_decides_no_price_or_chance_does():
    shop, unit = paper_shop(), replace(ANTENNA, ownership=UNCHECKED)
    forecast = paper_forecast(unit, shop.catalogue, FLEX)
    assert assess(unit, shop, 60, forecast=forecast).flips == ()
    found = what_flips(unit, shop, 60, forecast=forecast)
    assert found and all(swing.flips_at is None for swing in found)
    assert any(swing.flips_at for swing in what_flips(ANTENNA, shop, 60, forecast=forecast))


def test_a_margin_beside_no_price_names_the_price_it_is_for():
    # Storage dead, its parts worth 30: nothing meets the rule even for nothing: 30 - 20 - 2 = 8.
    work = {("storage-or-processor-dead", "change-storage-or-processor"): (0.1, 150, 150)}
    unit = Unit("storage", "middle", (Finding("storage-or-processor-dead"),), parts_value=30.0)
    free = worked(unit, work)
    assert (free.limit, free.expected_margin) == (None, pytest.approx(8.0))
    assert at_price(free) == " at €0.00" and free.sentence.startswith("At €0.00: expected margin €8")
    # An owner's: quoted at its resale value, 200.
    assert at_price(worked(unit, work, walk_in=True)) == " at €200.00"
    # Where a price stands beside it, it is that one's.
    assert at_price(worked(unit, work, ask=10)) == at_price(worked(ANTENNA, FLEX)) == ""


def test_a_job_of_no_minutes_has_no_margin_by_the_hour():
    # Stripping in no time at all: 60 - 100 - 2 = -42, and by the hour of nothing -2.5 million million.
    shop = paper_shop()
    shop = replace(shop, settings=replace(shop.settings, minutes=replace(shop.settings.minutes, strip=0.0)))
    unit = Unit("storage", "middle", (Finding("storage-or-processor-dead"),))
    work = {("storage-or-processor-dead", "change-storage-or-processor"): (0.1, 150, 150)}
    answered = assess(unit, shop, 100, forecast=paper_forecast(unit, shop.catalogue, work))
    assert (answered.minutes, answered.margin_per_hour) == (0.0, None)
    assert answered.expected_margin == pytest.approx(-42.0)
    assert "bench hour" not in answered.sentence and "€25 or more a device" in answered.sentence
    assert "bench hour" not in answered.limit_words
