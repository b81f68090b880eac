"""`triage chances`: the stored chances, one row a damage and severity."""

from __future__ import annotations

import json

import pytest

from triage.domain.catalogue import load_catalogue

FIELDS = {"finding", "severity", "mean", "sd", "low", "high", "attempts", "fixed"}


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
        interval = f"{row['low']:.2f} to {row['high']:.2f}"
        line = next(
            line for line in out.splitlines() if line.split()[:2] == [row["finding"], str(row["severity"])]
        )
        assert f"{row['mean']:.2f}" in line and interval in line and len(line) <= 80


def test_a_folder_without_draws_is_refused(triage, tmp_path):
    said = triage("chances", "--posterior", tmp_path)
    assert said.code == 2 and said.out == "" and "run a fit first" in said.err
