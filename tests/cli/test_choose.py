"""`triage choose`: a choice, the whole, a bid list; refusals in one message."""

from __future__ import annotations

import csv
import json

import pytest

LOT = """\
unit,tier,findings,ask,lock
A1,upper,display-glass-cracked,30,clear
A2,upper,cell-worn/2,40,clear
A3,middle,back-glass-cracked/2,20,locked-to-another
A4,middle,back-glass-craked,20,clear
A5,middle,touch-fault/3,10,cannot-tell
"""


@pytest.fixture
def lot(tmp_path):
    path = tmp_path / "lot.csv"
    path.write_text(LOT)
    return path


def test_a_choice_with_its_whole_and_its_bid_list(triage, lot, tmp_path):
    bids = tmp_path / "bids.csv"
    said = triage("choose", lot, "--cash", 100, "--hours", 5, "--most", "upper=1", "--whole", "--freight", 12,
                  "--out", bids, "--json")  # fmt: skip
    assert said.code == 0, said.err
    told = json.loads(said.out)
    taken = [line["label"] for line in told["lines"] if line["taken"]]
    assert len(taken) <= 1 and set(taken) <= {"A1", "A2"}
    assert told["whole"]["refused"] == 1 and told["whole"]["bad_rows"] == 1
    assert told["whole"]["freight"] == 12
    assert [row["label"] for row in told["bad_rows"]] == ["A4"]
    with bids.open() as file:
        rows = list(csv.DictReader(file))
    assert {row["unit"] for row in rows} == {"A1", "A2", "A3", "A5"}
    assert next(row for row in rows if row["unit"] == "A3")["highest_bid"] == ""
    again = triage("choose", lot, "--out", bids)
    assert again.code == 2 and "exists already" in again.err and not again.out


def test_in_words(triage, lot):
    said = triage("choose", lot, "--cash", 100, "--worst")
    assert said.code == 0 and said.out.startswith("Buy ")
    flat = " ".join(said.out.split())
    assert "back-glass-craked" in flat and "nearest known: back-glass-cracked" in flat
    assert "Invented demo figures" in said.out and max(map(len, said.out.splitlines())) <= 100


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--most", "upper"), "not a price class and a count"),
        (("--take", "A3"), "ownership rules it out"),
        (("--cash", "much"), "not an amount of money"),
    ],
)
def test_what_is_refused(triage, lot, options, words):
    said = triage("choose", lot, *options)
    assert said.code == 2 and words in " ".join(said.err.split()) and not said.out


def test_a_lot_with_limits_goes_on_to_choose(triage, lot):
    limits = ("--cash", 100, "--hours", 5, "--json")
    scored, chosen = (triage(command, lot, *limits) for command in ("lot", "choose"))
    assert scored.code == 0 and scored.out == chosen.out
