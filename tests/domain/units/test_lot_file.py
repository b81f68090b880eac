"""Lot files: what each cell may contain, and all faults of all rows without loss of good rows."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triage.domain.catalogue import load_catalogue
from triage.domain.shop.price_book import load_price_book
from triage.domain.units.lot_file import COLUMNS, read_lot, read_lot_text
from triage.domain.units.unit import CheckResult, Finding, Ownership, Unit
from triage.errors import LotFileError

ROOT = Path(__file__).parents[3]
CATALOGUE = load_catalogue()
PRICES = load_price_book(ROOT / "models" / "shop" / "demo-prices.toml")


def read(*lines):
    return read_lot_text("\n".join(lines) + "\n", "lot.csv", CATALOGUE, PRICES)


def faults(*lines):
    (row,) = read(*lines).bad_rows
    return [f"{fault.field}: {fault.wrong}" for fault in row.faults]


def test_every_cell_is_read():
    lot = read(
        "unit,tier,model,cause,battery,lock,identity,ask,working_price,parts_value,findings,symptoms,checks",
        '"B, 7",upper,M1,dropped,suspect,cannot-tell,not-checked,84.50,300,40,'
        "back-glass-cracked; port-pins-damaged/3 ;cell-worn/2/8 in 20,no-charge,"
        "usb-draw-reading=found;cell-look=not-found",
        "",
        "C,budget,,,,,,,,,cell-worn//0.25,,",
    )
    assert not lot.bad_rows
    first, second = lot.rows
    assert first.unit == Unit(
        name="B, 7",
        tier="upper",
        model="M1",
        cause="dropped",
        battery="suspect",
        ownership=Ownership(lock="cannot-tell", identity="not-checked"),
        working_price=300.0,
        parts_value=40.0,
        findings=(
            Finding("back-glass-cracked"),
            Finding("port-pins-damaged", 3),
            Finding("cell-worn", chance=0.4),
        ),
        symptoms=("no-charge",),
        readings=(CheckResult("usb-draw-reading", True), CheckResult("cell-look", False)),
    )  # fmt: skip
    assert (first.line, first.ask) == (2, 84.5)
    assert first.text.startswith('"B, 7",upper,M1')
    # What a row does not say was not checked.
    not_checked = Ownership(lock="cannot-tell", identity="not-checked")
    assert second.unit == Unit("C", "budget", (Finding("cell-worn", chance=0.25),), ownership=not_checked)
    assert (second.line, second.ask) == (4, None)


def test_all_faults_of_a_row_are_reported_and_other_rows_are_kept():
    lot = read(
        "unit,tier,findings,ask,lock,checks",
        "a,middel,frame-bnt/4;cell-worn/2/21 in 20,-3,open,cell-look=maybe;glance=found",
        "b,middle,cell-worn,30,,",
        "b,middle,cell-worn,30,,",
        ",middle,,1e9,,",
        "c,middle,cell-worn",
    )
    assert [row.unit.name for row in lot.rows] == ["b"]
    assert [row.line for row in lot.bad_rows] == [2, 4, 5, 6]
    told = [[str(fault) for fault in row.faults] for row in lot.bad_rows]
    first = "\n".join(told[0])
    for words in (
        "lot.csv, line 2, tier: 'middel' is not a known tier; nearest known: middle",
        "findings: 'frame-bnt' is not a known damage kind; nearest known: frame-bent",
        "findings: severity '4' of frame-bnt is not accepted; allowed: 1, 2 or 3",
        "findings: chance '21 in 20' of cell-worn is not accepted",
        "ask: '-3' is not an amount of money",
        "lock: 'open' is not accepted",
        "checks: result 'maybe' of cell-look is not accepted",
        "checks: 'glance' is not a known check",
    ):
        assert words in first
    assert told[1] == ["lot.csv, line 4, unit: 'b' is already on line 3; allowed: a unique label"]
    assert len(told[2]) == 3  # no label, nothing found, too much money
    assert told[3] == ["lot.csv, line 6, row: has 3 cells; allowed: 6 cells, as in the header"]
    assert lot.bad_rows[0].text.startswith("a,middel,")


@pytest.mark.parametrize(
    ("header", "words"),
    [
        ("unit,tier", "the column 'findings' is missing"),
        ("unit,tier,findings,asks", "'asks' is not a known column; nearest known: ask"),
        ("unit,tier,findings,tier", "the column 'tier' is given twice"),
        ("", "is empty"),
    ],
)
def test_a_file_that_is_not_a_lot_is_refused(header, words):
    with pytest.raises(LotFileError, match=words):
        read(header)


def test_a_file_that_cannot_be_read_is_refused(tmp_path):
    path = tmp_path / "lot.csv"
    with pytest.raises(LotFileError, match="No such file"):
        read_lot(path, CATALOGUE, PRICES)
    path.write_bytes(b"unit,tier,findings\n\xff\xfe,middle,cell-worn\n")
    with pytest.raises(LotFileError, match="not UTF-8"):
        read_lot(path, CATALOGUE, PRICES)


def test_a_line_break_inside_a_cell_is_a_fault_and_line_numbers_stay_right():
    lot = read("unit,tier,findings", '"a\nb",middle,cell-worn', "c,middel,cell-worn")
    assert [row.line for row in lot.bad_rows] == [2, 4]


def test_the_invented_lot_is_read_whole():
    lot = read_lot(ROOT / "synthetic_cases" / "lot.csv", CATALOGUE, PRICES)
    assert len(lot.rows) == 240 and not lot.bad_rows


@given(st.lists(st.text(max_size=30), min_size=len(COLUMNS), max_size=len(COLUMNS)))
def test_any_text_is_a_row_or_a_bad_row(cells):
    line = ",".join('"' + cell.replace('"', '""') + '"' for cell in cells)
    lot = read(",".join(COLUMNS), line)
    assert len(lot.rows) + len(lot.bad_rows) in (0, 1)  # blank lines are not rows
