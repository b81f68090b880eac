"""`triage review`: what lost money, from a CSV, as text and as JSON."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

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
    return ("--history", tmp_path / "jobs.csv", "--catalogue", tmp_path / "kinds.toml")


def test_the_invented_shop_as_text(triage):
    said = triage("review", "--history", SHOP, "--by", "family")
    assert said.code == 0 and said.err == ""
    lines = said.out.splitlines()
    assert max(map(len, lines)) <= 100
    assert lines[0].startswith("Margin of 2545 jobs: −€") and lines[0].endswith("by family")
    assert "Left out: 55 jobs (not sold yet)." in said.out
    assert "Invented demo figures stand behind this: past jobs, rates and rules." in said.out
    assert " in 20" in said.out and "each counted whole" in said.out


def test_the_invented_shop_as_json(triage):
    said = triage("review", "--history", SHOP, "--by", "tier", "--json")
    answer = json.loads(said.out)
    assert said.code == 0 and answer["schema"] == 1 and answer["by"] == "tier"
    totals = [group["total"] for group in answer["groups"]]
    assert totals == sorted(totals) and sum(totals) == pytest.approx(answer["total"])
    assert all(len(group["members"]) == group["counted"] for group in answer["groups"])


def test_technicians_are_no_ranking(triage):
    out = triage("review", "--history", SHOP, "--by", "technician").out
    assert "No ranking" in out and "total" not in out
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
    said = triage("review", "--history", tmp_path / "none.csv")
    assert said.code == 2 and said.out == "" and "none.csv" in said.err
    assert triage("review", "--history", SHOP, "--by", "mood").code == 2
