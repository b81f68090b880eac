"""A stranger's spreadsheet is understood as far as it says; what may be read two ways is asked."""

from __future__ import annotations

import pytest

from triage.domain.catalogue import load_catalogue
from triage.ledger.history.column_mapping import ColumnMapping
from triage.ledger.history.mapping_guess import guess_mapping
from triage.ledger.history.word_guess import like_kind, like_word

CATALOGUE = load_catalogue()
SHEET = """\
Order No.;Date in;Fault;Result;Tech;Bought for;Sold for;Time spent;Finished;Notes
1001;03.01.2026 14:20;cracked screen;Repaired;Al;40,50;1.240;45;2026-01-04;x
1002;13.02.2026;water damage;BER;Bo;12,00;0;90;2026-02-20;
1002;13.02.2026;strange thing;fixed;Bo;12,00;0;;2026-02-20;
"""


def guess(text, encoding="utf-8", **named):
    return guess_mapping(text.encode(encoding), CATALOGUE, **named)


def test_columns_dates_numbers_and_words_are_found():
    found = guess(SHEET)
    mapping = found.mapping
    assert mapping.columns == {
        "job": "Order No.", "date": "Date in", "finding": "Fault", "outcome": "Result",
        "minutes": "Time spent", "technician": "Tech", "paid": "Bought for", "sold": "Sold for",
        "closed": "Finished",
    }  # fmt: skip
    assert (mapping.delimiter, mapping.decimal, mapping.one_job_a_row) == (";", ",", False)
    assert {mapping.dates, *mapping.own_dates.values()} == {"DD.MM.YYYY", "YYYY-MM-DD"}
    assert mapping.words["outcome"] == {"Repaired": "fixed", "BER": "not-fixed"}
    assert mapping.words["finding"]["cracked screen"] == "display-glass-cracked"
    assert found.words["finding"]["strange thing"] == 1 and "strange thing" not in mapping.words["finding"]
    assert not found.open_dates and not found.open_decimals


@pytest.mark.parametrize(
    ("days", "dates", "open_"),
    [
        (("03/04/2026", "05/06/2026"), None, ("DD/MM/YYYY", "MM/DD/YYYY")),
        (("03/04/2026", "25/06/2026"), "DD/MM/YYYY", None),
        (("03/04/2026", "06/25/2026"), "MM/DD/YYYY", None),
        (("2026-01-02", "2026-03-04"), "YYYY-MM-DD", None),
        (("7/7/2026", "8/8/2026"), "DD/MM/YYYY", None),  # the same day either way
    ],
)
def test_a_day_that_may_be_a_month_is_asked(days, dates, open_):
    found = guess("job,date,finding,outcome\n" + "".join(f"{d},{d},cell-worn,fixed\n" for d in days))
    assert found.open_dates == ({"date": open_} if open_ else {})
    if dates:
        assert found.mapping.dates == dates


@pytest.mark.parametrize(
    ("amounts", "decimal", "open_"),
    [
        (("1.240", "80"), None, ("paid",)),
        (("1.240", "80,50"), ",", ()),
        (("1,240", "80.50"), ".", ()),
        (("1.240,50", "7"), ",", ()),
        (("12", "80"), ".", ()),
    ],
)
def test_a_point_that_may_group_thousands_is_asked(amounts, decimal, open_):
    rows = "".join(f"{a};2026-01-02;cell-worn;fixed;{a}\n" for a in amounts)
    found = guess("job;date;finding;outcome;paid\n" + rows)
    assert found.open_decimals == open_
    if decimal:
        assert found.mapping.decimal == decimal


def test_a_file_without_job_numbers_has_a_job_a_row_and_other_encodings_are_read():
    found = guess("Datum\tFault\tResult\n2026-01-02\tGehäuse – krumm\tyes\n", "cp1252")
    assert found.mapping.one_job_a_row and found.mapping.encoding == "cp1252"
    assert found.mapping.delimiter == "tab" and "Gehäuse – krumm" in found.words["finding"]
    assert guess("date,fault\n2026-01-02,x\n", "utf-16").mapping.encoding == "utf-16"


def test_what_was_matched_before_stands():
    known = ColumnMapping(
        columns={"finding": "Notes"}, words={"finding": {"strange thing": "via-broken"}},
        always={"route": "walk-in"}, currency="CHF",
    )  # fmt: skip
    found = guess(SHEET.replace(";x\n", ";strange thing\n"), known=known)
    assert found.mapping.columns["finding"] == "Notes" and found.mapping.currency == "CHF"
    assert found.mapping.words["finding"] == {"strange thing": "via-broken"}
    assert found.mapping.always == {"route": "walk-in"}


@pytest.mark.parametrize("data", [b"", b"\x00\x01\x02", b"one column\nonly\n", b"a,b\n", b"\xff\xfe"])
def test_what_is_no_table_is_said_to_be_none(data):
    assert guess_mapping(data, CATALOGUE) is None


@pytest.mark.parametrize(
    ("said", "kind"),
    [
        ("Screen cracked", "display-glass-cracked"),
        ("battery swolen", "cell-swollen"),
        ("WATER DAMAGE", "liquid-on-board"),
        ("bent frame", "frame-bent"),
        ("something else", ""),
        ("dead", ""),
    ],
)
def test_words_of_other_shops_are_matched_and_what_is_unlike_is_left_open(said, kind):
    assert like_kind(said, CATALOGUE) == kind


def test_every_word_of_a_closed_list_means_one_thing():
    assert like_word("outcome", "Not repaired") == "not-fixed"
    assert like_word("outcome", "repaired?") == "fixed" and like_word("outcome", "perhaps") == ""
