"""The paper shop, for work by hand: round numbers, no fees, no tax, no damage done by repairs.

A bench minute costs 1. Opening, board out and shields off take 10 each,
tracing 20, closing 5, sealing 5, final verification 10 (so finishing costs 20
once opened and 10 if never opened), stripping 20, putting together 15, making
a battery safe 10, the careful look at a suspect one 5, taking a good one out 10,
consumables 2. A middle unit sells for 200; 60 as parts, 30
with a broken panel. Rule: margin 25, 10 per hour, losses in at most 6 of 20.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from triage.domain.catalogue import load_catalogue
from triage.domain.shop.price_book import PartPrice, PriceBook, Tier
from triage.domain.shop.settings import Fees, FixedMinutes, GoRule, Settings
from triage.posterior.manifest import Manifest
from triage.posterior.store import Posterior
from triage.priors.prior_set import PriorSet
from triage.priors.repair_beliefs import CheckBelief, RepairBelief, RepairBeliefs
from triage.workflows.shop.shop import Shop

TODAY = date(2026, 11, 25)
PRICES = {
    "antenna-flex": 8, "battery": 20, "display": 40, "adhesive-seal": 0, "solder-and-flux": 3,
    "small-parts": 2, "power-key-flex": 6, "housing": 35, "back-glass": 10, "rear-camera": 25,
    "sensor-flex": 9, "board-chip": 30, "charge-port": 5, "charge-board": 15, "screws": 0,
}  # fmt: skip
UNCONFIRMED = "charge-board"
# Chances of the paper shop are given by hand with each unit.
NOTHING_FITTED = Posterior(
    {},
    Manifest(
        seed=0, as_of="", jobs=0, rows=0, data_hash="", prior_hash="", catalogue_digest="", structure="",
        kinds=(), models={},
    ),
)  # fmt: skip


def paper_shop(salvage: dict[str, float] | None = None, checks: tuple[str, ...] = ()) -> Shop:
    """The shop; a failure loses nothing except for the repairs named in `salvage`.

    Only the named checks exist: 5 minutes each, right 8 in 10 when the fault is
    there and 9 in 10 when it is not.
    """
    catalogue = load_catalogue()
    catalogue = replace(catalogue, check=tuple(catalogue.checks[slug] for slug in checks))
    beliefs = RepairBeliefs(
        repair=tuple(
            RepairBelief(r.slug, collateral_chance=0.0, salvage_share=(salvage or {}).get(r.slug, 1.0))
            for r in catalogue.repair
        ),
        check=tuple(CheckBelief(check.slug, 5.0, 0.8, 0.9, jobs=1e6) for check in catalogue.check),
    )
    settings = Settings(
        "paper shop",
        "EUR",
        bench_rate=60.0,
        go_rule=GoRule(25.0, 10.0, 6),
        minutes=FixedMinutes(
            10, 10, 10, 10, 20, 5, 5, 10, 20, 15, careful_look=5, battery_out=10, liquid_look=5
        ),
        fees=Fees(consumables=2.0),
        recovered_part_share=0.0,
        opening_damage_chance=0.0,
    )
    prices = PriceBook(
        tier=(Tier("middle", "Middle", 200.0, 60.0, 30.0),),
        part=tuple(
            PartPrice(
                part,
                {"middle": float(price)},
                lead_days=(20.0, 20.0, 20.0) if part == UNCONFIRMED else (0.0, 1.0, 3.0),
                checked_on=None if part == UNCONFIRMED else TODAY,
            )
            for part, price in PRICES.items()
        ),
    )
    return Shop(catalogue, settings, prices, PriorSet(repairs=beliefs), NOTHING_FITTED, TODAY)
