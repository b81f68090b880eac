"""`triage prices`: from file to file, used by every command, undone, and nothing saved of a faulty file."""

from __future__ import annotations

import csv
import json

import pytest

LIST = (
    "model;item;price;checked_on\nHeron 3;whole device;310,50;2026-11-13\nHeron 3;back glass;15;2026-11-13\n"
)
UNIT = """\
[device]
name = "Grey handset"
tier = "middle"
model = "heron 3"
[[finding]]
kind = "back-glass-cracked"
[ownership]
lock = "clear"
identity = "agrees"
proof_recorded = true
"""
LOT = (
    "unit,tier,model,ask,lock,identity,findings\nA1,middle,HERON 3,40,clear,agrees,back-glass-cracked\n"
    "A2,middle,Hern 3,40,clear,agrees,back-glass-cracked\nA3,middle,,40,clear,agrees,back-glass-cracked\n"
)


@pytest.fixture
def shop(no_record, tmp_path):
    """A folder with a list, a device and a lot, and a record's place beside which nothing lies yet."""
    for name, text in {"list.csv": LIST, "unit.toml": UNIT, "lot.csv": LOT}.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    return tmp_path


def test_a_list_goes_in_and_comes_out_as_it_is_kept(triage, shop):
    said = triage("prices", "import", shop / "list.csv", "--dry-run")
    assert (said.code, said.out) == (0, "prices would be imported: 2 added\n")
    assert triage("prices", "export").out.count("\n") == 1
    assert triage("prices", "import", shop / "list.csv").out == "prices imported: 2 added\n"
    out = triage("prices", "export").out
    assert list(csv.DictReader(out.splitlines()))[0]["price"] == "310.50"
    assert triage("prices", "export", shop / "out.csv").code == 0
    assert (shop / "out.csv").read_text() == out
    assert triage("prices", "import", shop / "out.csv").out == "prices imported: no price changed\n"


def test_an_import_adds_replaces_and_is_undone(triage, shop):
    triage("prices", "import", shop / "list.csv")
    (shop / "more.csv").write_text("model,item,price\nOtter,whole device,80\n")
    assert triage("prices", "import", shop / "more.csv").out == "prices imported: 1 added\n"
    told = json.loads(triage("prices", "import", shop / "more.csv", "--replace", "--json").out)
    assert told == {"schema": 1, "added": 0, "changed": 0, "deleted": 2}
    assert triage("prices", "undo").out == "last save undone: 2 added\n"
    assert triage("prices", "export").out.count("\n") == 4


def test_a_faulty_file_leaves_the_prices_as_they_were(triage, shop):
    triage("prices", "import", shop / "list.csv")
    before = triage("prices", "export").out
    (shop / "list.csv").write_text(LIST + "Heron 3;display;1.240;\n", encoding="utf-8")
    said = triage("prices", "import", shop / "list.csv", "--replace")
    assert (
        said.code == 2 and "list.csv, line 4, price: '1.240' can mean 1240 or 1.24; allowed: 1240" in said.err
    )
    assert triage("prices", "export").out == before


def test_device_quote_lot_and_choice_say_which_price_was_used(triage, shop):
    triage("prices", "import", shop / "list.csv")
    on, words = ("--as-of", "2026-11-25"), "price of this model, checked 12 days ago"
    device = triage("assess", shop / "unit.toml", "--ask", "40", *on)
    assert f"Resale value by: {words}" in device.out and "model prices" in device.err
    told = json.loads(triage("assess", shop / "unit.toml", "--ask", "40", *on, "--json").out)
    assert told["priced_by"] == words
    assert words in triage("quote", shop / "unit.toml", *on).out
    summary = "Resale value: 1 by model, 2 by price class (1 of a model not in your price list)."
    scored = triage("lot", shop / "lot.csv", *on, "--out", shop / "scored.csv")
    assert summary in " ".join(scored.out.split())
    with (shop / "scored.csv").open() as file:
        rows = list(csv.DictReader(file))
    assert [row["priced_by"] for row in rows] == ["model", "price class, model not in list", "price class"]
    assert float(rows[0]["highest_bid"]) > float(rows[1]["highest_bid"]) == float(rows[2]["highest_bid"])
    chosen = triage("choose", shop / "lot.csv", "--cash", "500", *on, "--out", shop / "bids.csv")
    assert summary in " ".join(chosen.out.split())
    assert (shop / "bids.csv").read_text().splitlines()[0].endswith(",priced_by,limited_by")
