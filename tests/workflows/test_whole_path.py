"""From findings to price, whatever is found: what must hold of any device on the shipped demo."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from triage.domain.shop.settings import GoRule
from triage.domain.units.unit import Finding, Unit
from triage.policy.pricing.valuation import highest_bid
from triage.prediction.forecast import forecast_unit
from triage.workflows.answers.pricing import priced_at, unit_pricing
from triage.workflows.shop.shop import open_shop

SHOP = open_shop()
CATALOGUE = SHOP.catalogue
REPAIRED = sorted(kind.slug for kind in CATALOGUE.kinds.values() if kind.role == "repair")
# Few draws: what must hold of any device holds of any posterior.
DRAWS = 40
whatever_is_found = settings(
    max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck)
)
pytestmark = pytest.mark.slow


@st.composite
def findings(draw, most=3):
    kinds = draw(st.lists(st.sampled_from(REPAIRED), min_size=1, max_size=most, unique=True))
    chances = st.sampled_from((1.0, 1.0, 0.4))
    return tuple(Finding(kind, draw(st.integers(1, 3)), chance=draw(chances)) for kind in kinds)


@st.composite
def units(draw, most=3):
    tier = draw(st.sampled_from(list(SHOP.prices.tiers())))
    battery = draw(st.sampled_from(("sound", "not-seen", "suspect")))
    return Unit(
        "any",
        tier,
        draw(findings(most)),
        cause=draw(st.sampled_from(("", "dropped", "wet"))),
        battery=battery,
    )


def pricing(unit, shop=SHOP, forecast=None):
    return unit_pricing(unit, shop, forecast=forecast, draws=DRAWS)


def margin(unit, ask=40.0):
    return pricing(unit).valuation.bought_at(ask).expected_margin


@whatever_is_found
@given(units(most=3), st.sampled_from(REPAIRED), st.integers(1, 3))
def test_one_more_required_repair_never_raises_the_margin(unit, kind, severity):
    if kind in {finding.kind for finding in unit.findings}:
        return
    worse = replace(unit, findings=(*unit.findings, Finding(kind, severity)))
    before, after = pricing(unit), pricing(worse)
    if before.set_aside or after.set_aside:
        return  # a plan that leaves something out is a lower bound only
    bought = [one.valuation.bought_at(40.0).expected_margin for one in (before, after)]
    assert bought[1] <= bought[0] + 1e-6


@whatever_is_found
@given(units(most=2), st.floats(1.01, 1.6))
def test_better_chances_never_lower_the_highest_bid(unit, better):
    # Every chance a like factor nearer to certain success: whatever was planned before can be
    # played again, taking some successes for failures.
    forecast = forecast_unit(
        unit, CATALOGUE, SHOP.posterior, SHOP.priors, SHOP.settings, draws=DRAWS, nodes=7
    )
    top = max(float(told.chance.max()) for told in forecast.repairs.values())
    factor = min(better, 1 / top)
    like = dict(
        minutes_failed=np.full(1, 30.0),
        minutes_fixed=np.full(1, 30.0),
        comebacks=np.zeros(1),
        parts_ratio=np.ones(1),
    )
    even = {
        key: replace(
            told,
            chance_after={},
            **{k: np.broadcast_to(v, told.minutes_fixed.shape) for k, v in like.items()},
        )
        for key, told in forecast.repairs.items()
    }
    bids = []
    for lift in (1.0, factor):
        raised = {key: replace(told, chance=told.chance * lift) for key, told in even.items()}
        laid_out = pricing(unit, forecast=replace(forecast, repairs=raised))
        if laid_out.set_aside:
            return
        # By margin alone: a plan chosen for its margin may take longer, or lose more often.
        bids.append(highest_bid(laid_out.valuation, GoRule(20.0, -1e9, 20)) or 0.0)
    assert bids[1] >= bids[0] - 0.011


@whatever_is_found
@given(units(most=3), st.randoms(use_true_random=False))
def test_the_order_of_findings_changes_nothing(unit, shuffler):
    shuffled = list(unit.findings)
    shuffler.shuffle(shuffled)
    first, second = (priced_at(pricing(one), 40.0) for one in (unit, replace(unit, findings=tuple(shuffled))))
    assert second.outcome.expected_margin == pytest.approx(first.outcome.expected_margin, abs=1e-8)
    assert (
        second.pricing.limit == pytest.approx(first.pricing.limit, abs=1e-9)
        if first.pricing.limit
        else second.pricing.limit == first.pricing.limit
    )
    assert second.verdict == first.verdict


@whatever_is_found
@given(units(most=2), st.sampled_from((0.25, 3.0, 120.0)))
def test_money_in_another_coin_gives_the_same_answer_in_that_coin(unit, rate):
    here, there = priced_at(pricing(unit), 40.0), priced_at(pricing(unit, in_coin(rate)), 40.0 * rate)
    assert there.outcome.expected_margin == pytest.approx(
        rate * here.outcome.expected_margin, rel=1e-9, abs=1e-7 * rate
    )
    assert there.outcome.expected_minutes == pytest.approx(here.outcome.expected_minutes, rel=1e-9)
    assert there.verdict == here.verdict
    if here.pricing.limit is not None and there.pricing.limit is not None:
        # A bid is a whole cent, and a loss is one of more than half a cent, in either coin.
        assert there.pricing.limit == pytest.approx(rate * here.pricing.limit, abs=0.016 * (1 + rate))


def in_coin(rate):
    """The demo shop with every amount of money in another coin."""
    held, prices = SHOP.settings, SHOP.prices
    fees = replace(held.fees, **{
        name: getattr(held.fees, name) * rate
        for name in ("inbound_postage", "outbound_postage", "consumables", "disposal")
    })  # fmt: skip
    rule = replace(
        held.go_rule, margin=held.go_rule.margin * rate, margin_per_hour=held.go_rule.margin_per_hour * rate
    )
    tiers = tuple(
        replace(
            tier,
            working_price=tier.working_price * rate,
            parts_value_good_panel=tier.parts_value_good_panel * rate,
            parts_value_broken_panel=tier.parts_value_broken_panel * rate,
            yields=tuple(replace(one, price=one.price * rate) for one in tier.yields),
        )
        for tier in prices.tier
    )
    parts = tuple(
        replace(part, price={tier: price * rate for tier, price in part.price.items()})
        for part in prices.part
    )
    return replace(
        SHOP,
        settings=replace(
            held, fees=fees, go_rule=rule, bench_rate=held.bench_rate * rate,
            owner_damage_liability=held.owner_damage_liability * rate,
        ),
        prices=replace(prices, tier=tiers, part=parts),
    )  # fmt: skip
