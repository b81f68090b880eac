"""Scoring a lot as long work: told as it goes, and read back by the page."""

from __future__ import annotations

import json

from triage.lot_selection.lot_choice import Wanted
from triage.lot_selection.packed_lot import unpacked
from triage.workflows.background.lot import run
from triage.workflows.lots.choose import choose_from_lot
from triage.workflows.shop.shop import open_shop

LOT = "unit,tier,findings,ask\nA1,upper,cell-worn/2,40\nA2,upper,back-glass-cracked,30\nA3,nowhere,x,1\n"


def test_a_lot_is_scored_and_read_back(monkeypatch):
    for name in ("CATALOGUE", "PRIORS", "POSTERIOR", "SETTINGS", "PRICES"):
        monkeypatch.delenv(f"TRIAGE_SHOP_{name}", raising=False)
    told = []
    result = json.loads(json.dumps(run({"csv": LOT, "name": "tray.csv", "freight": 5.0}, told.append)))
    lot = unpacked(result["scored"])
    assert lot.labels == ("A1", "A2") and [row.line for row in lot.bad_rows] == [4]
    assert lot.bad_rows[0].faults[0].file == "tray.csv"
    assert result["whole"]["freight"] == 5.0 and result["whole"]["bad_rows"] == 1
    choice = choose_from_lot(lot, open_shop().settings, Wanted(cash=100.0))
    assert choice.outlay <= 100.0
    counted = [event for event in told if event.get("total")]
    assert counted and all(event["done"] <= event["total"] for event in counted)
