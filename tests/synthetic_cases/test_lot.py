"""The invented lot: the same seed gives the same file, and the file that is shipped."""

from __future__ import annotations

from synthetic_cases.lot import SEED, SHIPPED, UNITS, invented_lot, lot_text
from synthetic_cases.truth import load_truth


def test_the_shipped_lot_is_what_its_seed_gives():
    assert lot_text(invented_lot(load_truth(), UNITS, SEED)) == SHIPPED.read_text(encoding="utf-8")


def test_a_lot_of_units_with_so_many_findings():
    rows = invented_lot(load_truth(), 5, 3, findings=3)
    assert [len(row["findings"].split(";")) for row in rows] == [3] * 5
    assert [row["unit"] for row in rows] == [f"W-{n:05d}" for n in range(1, 6)]
