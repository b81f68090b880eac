"""Twenty units whose sale price nobody has learned yet, compared with lots played one by one.

A lot is played as the world has it: one posterior draw for all of it, then each unit's own
job effect, outcomes, minutes, parts, comebacks and price, drawn from the models given that
draw. The demo's draws stand behind all but the sale price, which is drawn from belief.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from triage.domain.units.lot import Lot, LotRow
from triage.domain.units.unit import Finding, Unit
from triage.lot_selection.lot_choice import Wanted
from triage.lot_selection.lot_risk import lot_risk
from triage.policy.problem.build import plan_inputs
from triage.policy.problem.payoffs import PurchaseTerms
from triage.policy.solver.simulate import play
from triage.policy.solver.spread import expected_shortfall
from triage.posterior.store import Posterior
from triage.prediction.forecast import Forecaster
from triage.workflows.answers.assess import assess
from triage.workflows.answers.pricing import priced_at, unit_pricing
from triage.workflows.lots.choose import choose_from_lot
from triage.workflows.lots.score import score_lot
from triage.workflows.shop.shop import DRAWS, NODES, Shop, open_shop

ASK, UNITS = 8.0, 20
DEVICES = (
    Unit("one repair", "middle", (Finding("display-glass-cracked"),)),
    Unit("two repairs", "upper", (Finding("cell-worn"), Finding("camera-dead"))),
)


def believing_shop() -> Shop:
    """The demo shop with sale prices by belief: levels a tenth, single sales about a seventh apart."""
    shop, rng = open_shop(today=date(2026, 11, 25)), np.random.default_rng(1)
    drawn = shop.posterior.draws["sale_price"].copy(deep=True)
    count = drawn.sizes["draw"]
    by_belief = {
        "level": rng.normal(0.0, 0.1, count),
        "first_drop": 0.15 * np.exp(0.5 * rng.normal(size=count)),
        "second_drop": 0.15 * np.exp(0.6 * rng.normal(size=count)),
        "spread": rng.uniform(0.1, 0.2, count),
        "tier_effect": rng.normal(0.0, 0.1, drawn["tier_effect"].shape),
        "tier_drop": rng.normal(0.0, 0.2, drawn["tier_drop"].shape),
    }
    for name, values in by_belief.items():
        drawn[name].values[...] = values
    held = shop.posterior
    return replace(shop, posterior=Posterior({**held.draws, "sale_price": drawn}, held.manifest))


SHOP = believing_shop()


def scored(*devices: Unit):
    rows = tuple(
        LotRow(place + 2, replace(device, name=f"{device.name} {place}"), ASK, "")
        for place, device in enumerate(devices)
    )
    return score_lot(Lot("lot", rows, ()), SHOP)


def played(device: Unit, seed: int, paths: int) -> np.ndarray:
    """Margins of one unit on paths of its own, shape (draw, path), its plan being the product's."""
    pricing = unit_pricing(device, SHOP)
    outcome = priced_at(pricing, ASK).outcome
    world = Forecaster(SHOP.catalogue, SHOP.chances, SHOP.priors, SHOP.settings, seed, DRAWS, NODES, paths)
    inputs = plan_inputs(pricing.unit, world.forecast(pricing.unit), SHOP.books_for(device), True, seed)
    terms = PurchaseTerms(inputs.sale, inputs.parts_value, ASK, SHOP.settings.fees, SHOP.settings.tax)
    margins = play(outcome.plan, terms, inputs.luck).margin - outcome.upfront
    # Within a draw the paths stand in the order of the job effect, which is each unit's own.
    return np.random.default_rng(seed).permuted(margins.reshape(DRAWS, -1), axis=1)


def held_against_played_lots(times: int, near: float) -> None:
    devices = (DEVICES * UNITS)[:UNITS]
    lot = scored(*devices)
    lots = sum(played(device, 100 + place, times) for place, device in enumerate(devices))
    within = lots.var(axis=1, ddof=1).mean()
    between = lots.mean(axis=1).var() - within / lots.shape[1]
    spread = lots.std()
    risk = lot_risk(lot.margin_draws.sum(axis=0), float(lot.luck_variances.sum()))
    assert risk.expected == pytest.approx(lots.mean(), abs=near * spread)
    assert np.hypot(risk.luck, risk.not_known) == pytest.approx(spread, rel=near)
    assert risk.share_not_known == pytest.approx(between / (between + within), abs=near)
    assert risk.shortfall - risk.expected == pytest.approx(
        expected_shortfall(lots.ravel()) - lots.mean(), rel=near
    )
    assert risk.loss_chance == pytest.approx((lots < 0).mean(), abs=near)
    assert risk.share_not_known > 0.5  # before levels were shared it said a tenth of this


def test_twenty_units_against_ten_thousand_lots():
    held_against_played_lots(10_000, 0.04)


@pytest.mark.slow
def test_twenty_units_against_two_hundred_thousand_lots():
    held_against_played_lots(200_000, 0.02)


@pytest.mark.parametrize("device", DEVICES)
def test_a_lot_of_one_unit_spreads_as_the_unit(device):
    alone = assess(device, SHOP, ASK)
    margins = priced_at(unit_pricing(device, SHOP), ASK).outcome.margins
    lot = scored(device)
    risk = choose_from_lot(lot, SHOP.settings, Wanted(must=lot.labels)).risk
    assert risk.expected == pytest.approx(alone.expected_margin)
    assert np.hypot(risk.luck, risk.not_known) == pytest.approx(margins.std())
    assert risk.share_not_known == pytest.approx(alone.share_not_known, abs=1e-3)
