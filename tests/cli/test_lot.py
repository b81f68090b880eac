"""`triage lot` at the command line."""

from __future__ import annotations

import json

import pytest


@pytest.fixture
def lot(tmp_path):
    path = tmp_path / "lot.csv"
    path.write_text(
        "unit,tier,ask,findings,lock,identity\na,upper,60,cell-worn,clear,agrees\n"
        "b,middle,20,cell-wrn,clear,agrees\nc,top,400,cell-worn,clear,agrees\n"
    )
    return path


def test_a_table_best_first_and_bad_rows_on_stderr(triage, lot, tmp_path):
    out = tmp_path / "scored.csv"
    said = triage("lot", lot, "--out", out)
    assert said.code == 0
    assert said.out.startswith("2 devices: 1 buy, 1 decline.")
    assert said.out.index("a  ") < said.out.index("c  ")
    assert "Invented demo figures used" in said.out
    assert "1 row could not be read:" in said.err and "nearest known: cell-worn" in said.err
    again = triage("lot", lot, "--out", out)
    assert again.code == 2 and "exists already" in again.err
    resumed = triage("lot", lot, "--out", out, "--resume", "--rows", "1")
    assert (
        "2 of them kept from an earlier run." in resumed.out
        and "... and 1 more (--full prints all)" in resumed.out
    )


def test_json_holds_every_unit_and_every_fault(triage, lot):
    told = json.loads(triage("lot", lot, "--json").out)
    assert [unit["unit"] for unit in told["units"]] == ["a", "c"]
    assert told["units"][1]["highest_bid"] < 400 and told["currency"] == "EUR"
    assert told["bad_rows"][0]["faults"][0]["field"] == "findings"


def test_a_refusal_writes_nothing(triage, lot, folder_is_untouched):
    with folder_is_untouched:
        assert triage("lot", lot, "--resume").code == 2
