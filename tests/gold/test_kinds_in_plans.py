"""Adding a damage to a device adds its repair, parts, cautions and checks; taking it off removes them.

What each kind calls for is written out by hand in `tests/domain/trade_*.py`
and compared with the catalogue there; here the plan is compared with the catalogue.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.gold.paper import paper_forecast
from tests.gold.paper_shop import paper_shop
from tests.tiers import one_in
from triage.domain.catalogue import load_catalogue
from triage.domain.units.unit import Finding, Unit
from triage.domain.units.unit_file import without_finding
from triage.policy.problem.normalise import normalise
from triage.workflows.answers.assess import assess

CATALOGUE = load_catalogue()
SHOP = paper_shop()
RICH = replace(SHOP, settings=replace(SHOP.settings, bench_rate=1.0))
# A finding that every unit here has, so that the device is opened and closed in any case.
BASE = "earpiece-weak"
REPAIRABLE = [kind.slug for kind in CATALOGUE.kind if kind.role == "repair" and kind.slug != BASE]


def planned(unit):
    unit = normalise(unit, CATALOGUE)
    work = {}
    for finding in unit.findings:
        usual = CATALOGUE.usual_method(finding.kind)
        work[finding.kind, usual] = (0.97, 10, 10)
    forecast = paper_forecast(unit, CATALOGUE, work, sale=(1.0, 0.5, 0.2))
    return assess(unit, RICH, ask=1.0, forecast=forecast)


def called_for(answered):
    """Repairs, parts, cautions at the repairs, and verification lines of a plan."""
    steps = [step for step in answered.steps if step.kind == "repair"]
    return (
        [step.subject for step in steps],
        [line.part for step in steps for line in step.parts],
        {caution.slug for step in steps for caution in step.cautions},
        {line.slug for step in steps for line in step.verify},
    )


@pytest.mark.parametrize("kind", one_in(5, zip(REPAIRABLE, strict=True)))
def test_adding_a_damage_adds_its_work_and_removing_it_removes_that(kind):
    both = Unit("u", "middle", (Finding(BASE), Finding(kind)), working_price=3000.0)
    repair = CATALOGUE.repairs[CATALOGUE.usual_method(kind)]
    base = called_for(planned(without_finding(both, kind)))
    repairs, parts, cautions, verify = called_for(planned(both))
    assert sorted(repairs) == sorted([*base[0], repair.slug])
    assert sorted(parts) == sorted([*base[1], *repair.parts])
    wanted = {*repair.cautions, *CATALOGUE.kinds[kind].cautions}
    assert cautions == base[2] | wanted
    assert verify == base[3] | set(repair.verify)
