"""`triage chances`: the stored chances, one row a damage and severity."""

from __future__ import annotations

import json
import shutil

import pytest

from triage.domain.catalogue import load_catalogue
from triage.posterior.store import MANIFEST
from triage.shipped import shipped
from triage.workflows.shop.shop import DEMO_POSTERIOR

FIELDS = {"finding", "severity", "mean", "sd", "low", "high", "attempts", "fixed", "assumption_only"}


@pytest.fixture
def rows(triage):
    said = triage("chances", "--json")
    assert said.code == 0 and said.err == ""
    answer = json.loads(said.out)
    assert set(answer) == {"schema", "chances"} and answer["schema"] == 1
    return answer["chances"]


def test_every_damage_that_is_repaired_has_a_row_at_each_severity(rows):
    repaired = [kind.slug for kind in load_catalogue().kind if kind.role == "repair"]
    assert sorted((row["finding"], row["severity"]) for row in rows) == sorted(
        (slug, severity) for slug in repaired for severity in (1, 2, 3)
    )


def test_rows_are_chances_with_the_record_behind_them(rows):
    for row in rows:
        assert set(row) == FIELDS
        assert 0 <= row["low"] <= row["mean"] <= row["high"] <= 1 and row["sd"] > 0
        assert isinstance(row["attempts"], int) and 0 <= row["fixed"] <= row["attempts"]
        assert row["assumption_only"] == (row["attempts"] == 0)
    assert sum(row["attempts"] for row in rows) > 1000


def test_a_worse_damage_is_never_likelier_to_be_fixed(rows):
    mean = {(row["finding"], row["severity"]): row["mean"] for row in rows}
    for finding, severity in mean:
        if severity > 1:
            assert mean[finding, severity] <= mean[finding, severity - 1]


def test_the_table_has_each_chance_with_its_interval_and_that_the_demo_is_invented(triage, rows):
    out = triage("chances").out
    assert "90 % interval" in out and "Invented demo figures" in out
    for row in rows:
        low, high = (f"{row[end]:.2f}".replace("1.00", "> 0.99") for end in ("low", "high"))
        interval = f"{low} to {high}"
        line = next(
            line for line in out.splitlines() if line.split()[:2] == [row["finding"], str(row["severity"])]
        )
        assert f"{row['mean']:.2f}".replace("1.00", "> 0.99") in line and interval in line and len(line) <= 80


def test_where_the_fit_of_the_chances_was_refused_all_are_assumptions_though_jobs_were_counted(
    triage, tmp_path
):
    folder = shutil.copytree(shipped(DEMO_POSTERIOR), tmp_path / "draws")
    told = json.loads((folder / MANIFEST).read_text())
    told["models"]["success"].update(belief_only=True, refused=True, why="3 divergences")
    (folder / MANIFEST).write_text(json.dumps(told))
    said = triage("chances", "--posterior", folder)
    rows = [line for line in said.out.splitlines() if " to " in line]
    assert rows and all(row.endswith("assumption only") for row in map(str.rstrip, rows))
    assert "No past job counts in these chances" in said.err and "3 divergences" in said.err
    rows = json.loads(triage("chances", "--posterior", folder, "--json").out)["chances"]
    assert all(row["assumption_only"] for row in rows) and any(row["attempts"] for row in rows)


def test_a_folder_without_draws_is_refused(triage, tmp_path):
    said = triage("chances", "--posterior", tmp_path)
    assert said.code == 2 and said.out == "" and "run a fit first" in said.err
