"""One repair has one chance in one answer, whoever says it: headline, plan, money, table, JSON."""

from __future__ import annotations

import io
import json
import re
from datetime import date

import pytest
from rich.console import Console

from triage.domain.counts import in_twenty
from triage.domain.units.unit import Finding, Unit
from triage.domain.units.unit_file import load_unit
from triage.reports.json_output.answer import as_json, assessment_object
from triage.reports.terminal.answer import print_whole
from triage.reports.wording.step import behind_words
from triage.reports.wording.verdict import verdict_title
from triage.shipped import shipped
from triage.workflows.answers.assess import assess
from triage.workflows.shop.shop import open_shop

# A dead display beside its cracked glass, a cut sensor flex and a message: two methods, three repairs.
STRANGER = Unit(
    "stranger",
    "top",
    (
        Finding("display-panel-dead", 3),
        Finding("display-glass-cracked"),
        Finding("sensor-flex-cut", 3),
        Finding("paired-part-message", 1),
        Finding("antenna-flex-torn"),
    ),
    working_price=900.0,
    battery="sound",
)


@pytest.fixture(scope="module")
def shop():
    return open_shop(today=date(2026, 11, 25))


def device(name, shop):
    if name == "stranger":
        return STRANGER
    return load_unit(shipped(f"synthetic_cases/devices/{name}.toml"), shop.catalogue, shop.prices)


@pytest.mark.parametrize("walk_in", [False, True])
@pytest.mark.parametrize("name", ["stranger", "dropped-console", "harbour-tablet", "rain-handset"])
def test_table_plan_and_json_give_a_repair_one_chance(shop, name, walk_in):
    answered = assess(device(name, shop), shop, 40.0 if not walk_in else None, walk_in)
    read = json.loads(as_json(assessment_object(answered, shop.catalogue)))
    planned = {step.subject: step.chance for step in answered.steps if step.kind == "repair"}
    told = {shop.catalogue.repairs[slug].name: chance for slug, chance in planned.items()}
    for row, written in zip(answered.findings, read["findings"], strict=True):
        assert row.planned == written["planned"]
        if row.planned is not None:
            assert row.chance == row.planned == told[row.repair]
        elif row.origin == "seen":  # a cause off the likely path is repaired in a branch
            methods = {repair.slug for repair in shop.catalogue.repairs_for(row.kind)}
            assert not methods & set(planned)
    console = Console(file=io.StringIO(), width=400, highlight=False)
    print_whole(answered, shop.catalogue, console)
    table = console.file.getvalue()
    for row in answered.findings:
        if row.repair:
            assert re.search(
                re.escape(row.name) + r", severity .*repair works " + in_twenty(row.chance) + ",", table
            )


def test_headline_plan_and_money_count_the_same_devices_as_working(shop):
    answered = assess(STRANGER, shop, 40.0)
    count = in_twenty(answered.chance_finished)
    assert f"({count})" in verdict_title(answered)
    assert answered.lines[0].note == f"{count} end up working"
    # With several repairs the chances of the later ones hold once the earlier ones worked.
    assert any(row.planned is not None and row.planned != row.mean for row in answered.findings)


def test_a_chance_that_differs_from_the_plain_rate_says_why(shop):
    rows = {row.kind: row for row in assess(STRANGER, shop, 40.0).findings}
    told = behind_words(rows["display-panel-dead"])
    assert "lower because of its severity" in told and len(told.split("; ")[1]) < 70
