"""A walk-in of the paper shop: every figure of its quotes can be reached with a pencil."""

from __future__ import annotations

from dataclasses import replace

from tests.gold.paper import paper_forecast
from tests.gold.paper_shop import paper_shop
from triage.domain.units.unit import Finding, Ownership, Unit
from triage.policy.problem.normalise import normalise
from triage.workflows.answers.quote import quote_unit

PROVEN = Ownership(lock="locked-to-owner", proof_recorded=True)
SCREEN = {("display-panel-dead", "swap-display"): (0.8, 30, 30)}


def device(*kinds, **more):
    findings = tuple(kind if isinstance(kind, Finding) else Finding(kind) for kind in kinds)
    return Unit(**{"name": "walk-in", "tier": "middle", "findings": findings, "ownership": PROVEN, **more})


def quoted(unit, work, kind="fixed", price=None, settings=None, hidden=None, causes=None, **more):
    shop = paper_shop()
    shop = replace(shop, settings=replace(shop.settings, **(settings or {})))
    unit = normalise(unit, shop.catalogue)
    forecast = paper_forecast(unit, shop.catalogue, work, hidden=hidden, causes=causes)
    return quote_unit(unit, shop, kind, price, forecast=forecast, **more)
