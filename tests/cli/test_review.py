"""`triage review`: what lost money, from a CSV, as text and as JSON."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest

from triage.domain.job.records import Intake
from triage.ledger.opening import open_ledger
from triage.shipped import shipped
from triage.workflows.jobs.intake import consider, decline, later_fate
from triage.workflows.jobs.record_keeper import RecordKeeper
from triage.workflows.shop.shop import DEMO_SETTINGS, open_shop

SHOP = Path(__file__).parents[2] / "synthetic_cases" / "past-jobs.csv"
VIOLINS = """\
[[kind]]
slug = "crack-in-top"
name = "crack in the top"
family = "body"

[[kind]]
slug = "peg-slips"
name = "peg slips"
family = "fittings"
"""
DEVICE = '[device]\nname = "x"\ntier = "top"\n'
BARE = """\
job,date,finding,outcome
v1,2025-01-02,crack-in-top,fixed
v1,2025-01-02,peg-slips,fixed
v2,2025-02-03,crack-in-top,not-fixed
v3,2025-03-04,peg-slips,not-attempted
"""


@pytest.fixture
def violins(tmp_path):
    (tmp_path / "kinds.toml").write_text(VIOLINS)
    (tmp_path / "jobs.csv").write_text(BARE)
    return ("--past-jobs", tmp_path / "jobs.csv", "--catalogue", tmp_path / "kinds.toml")


def test_the_invented_shop_as_text(triage):
    said = triage("review", "--past-jobs", SHOP, "--by", "family")
    assert said.code == 0 and said.err == ""
    lines = said.out.splitlines()
    assert max(map(len, lines)) <= 100
    assert lines[0].startswith("Margin of 2,545 jobs: −€") and lines[0].endswith("by family")
    assert "Left out: 55 jobs (not sold yet)." in said.out
    assert "Based on invented demo figures: past jobs, rates and rules." in said.out
    assert "the chance that its true mean is below 0" in " ".join(said.out.split())


def test_the_invented_shop_as_json(triage):
    said = triage("review", "--past-jobs", SHOP, "--by", "tier", "--json")
    answer = json.loads(said.out)
    assert said.code == 0 and answer["schema"] == 1 and answer["by"] == "tier"
    totals = [group["total"] for group in answer["groups"]]
    assert totals == sorted(totals) and sum(totals) == pytest.approx(answer["total"])
    assert all(len(group["members"]) == group["counted"] for group in answer["groups"])


@pytest.fixture
def some_jobs(tmp_path):
    path = tmp_path / "jobs.csv"
    path.write_text("".join(SHOP.read_text().splitlines(keepends=True)[:61]))
    return path


def test_the_jobs_behind_one_row(triage, some_jobs):
    walk_ins = ("review", "--past-jobs", some_jobs, "--by", "route", "--group", "walk-in")
    said = triage(*walk_ins)
    lines = said.out.splitlines()
    assert said.code == 0 and max(map(len, lines)) <= 100
    assert lines[0].startswith("walk-in: ") and lines[0].endswith("lowest margin first")
    assert "  lost €" in said.out and ", an owner's: " in said.out
    answer = json.loads(triage(*walk_ins, "--json").out)
    margins = [job["margin"] for job in answer["jobs"] if job["margin"] is not None]
    assert margins == sorted(margins) and len(margins) == answer["group"]["jobs"]
    assert sum(margins) == pytest.approx(answer["group"]["total"], abs=0.01)
    worst = answer["jobs"][0]
    costs = ("paid", "parts", "labour", "fees", "tax", "comeback")
    assert worst["margin"] == pytest.approx(worst["sold"] - sum(worst[name] for name in costs), abs=1e-4)
    said = triage(*walk_ins[:-1], "walkin")
    assert said.code == 2 and said.out == "" and "nearest known: walk-in" in said.err


@pytest.mark.slow
def test_a_record_is_reviewed_as_its_file_is_and_knows_what_was_passed_by(triage, some_jobs, tmp_path):
    record = tmp_path / "record.sqlite"
    assert triage("record", "import", some_jobs, "--record", record, "--by", "Ada").code == 0
    ledger = open_ledger(record)
    keeper = RecordKeeper(ledger, open_shop(), "Ada")
    for fate in (None, 3500, -2000):
        told = Intake(date(2026, 11, 2), DEVICE, ask_minor=4000, battery_looked_at=True)
        file = consider(keeper, told, "bought")
        file = decline(keeper, file.id, file.version, date(2026, 11, 2))
        if fate is not None:
            later_fate(keeper, file.id, file.version, fate, "heard at the market")
    ledger.close()
    from_file = json.loads(triage("review", "--past-jobs", some_jobs, "--json").out)
    from_record = json.loads(triage("review", "--record", record, "--json").out)
    assert from_record["groups"] == from_file["groups"] and from_file["regret"] is None
    told = from_record["regret"]
    assert (told["known"], told["unknown"], told["forgone"], told["spared"]) == (2, 1, 35.0, 20.0)
    assert [unit["ask"] for unit in told["units"]] == [40.0, 40.0]
    assert "If accepted, 1 would have earned €35.00 and 1 would have lost €20.00." in (
        " ".join(triage("review", "--record", record, "--by", "route").out.split())
    )
    before = json.loads(triage("review", "--record", record, "--as-of", "2026-10-01", "--json").out)
    assert before["regret"] == told | {
        "known": 0, "unknown": 0, "would_have_earned": 0, "forgone": 0.0, "spared": 0.0,
        "expected_gap": None, "units": [],
    }  # fmt: skip
    pounds = tmp_path / "pounds.toml"
    pounds.write_text(shipped(DEMO_SETTINGS).read_text().replace('"EUR"', '"GBP"'))
    said = triage("review", "--record", record, "--settings", pounds)
    assert said.code == 2 and "its amounts are in EUR" in said.err


def test_one_source_of_past_jobs(triage, tmp_path):
    assert triage("review").code == 2
    assert triage("review", "--past-jobs", SHOP, "--record", tmp_path / "r.sqlite").code == 2
    said = triage("review", "--record", tmp_path / "none.sqlite")
    assert said.code != 0 and said.out == "" and not (tmp_path / "none.sqlite").exists()


def test_technicians_are_no_ranking(triage):
    out = triage("review", "--past-jobs", SHOP, "--by", "technician").out
    assert "not ranked" in out and "total" not in out
    assert out.index("back-bench") < out.index("north-bench") < out.index("window-bench")


def test_a_trade_of_its_own_without_money(triage, violins):
    said = triage("review", *violins)
    assert said.code == 0 and said.err == ""
    assert "The record lacks route, sold, minutes and parts_cost" in said.out
    assert "crack in the top" in said.out and "1 of 2" in said.out
    for by in ("tier", "technician", "cause", "route"):
        said = triage("review", *violins, "--by", by)
        assert said.code == 0 and f"The record lacks {by}" in said.out
    answer = json.loads(triage("review", *violins, "--json").out)
    assert answer["jobs"] == 0 and {"sold", "minutes", "parts_cost"} <= set(answer["lacks"])


def test_a_file_that_is_not_there_is_refused(triage, tmp_path):
    said = triage("review", "--past-jobs", tmp_path / "none.csv")
    assert said.code == 2 and said.out == "" and "none.csv" in said.err
    assert triage("review", "--past-jobs", SHOP, "--by", "mood").code == 2
