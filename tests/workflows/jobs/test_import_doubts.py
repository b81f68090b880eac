"""Imports are never silently wrong: what is hardly meant is asked about by line, and taken with --sure."""

from __future__ import annotations

from datetime import date

import pytest

from triage.domain.catalogue import load_catalogue
from triage.errors import HistoryError
from triage.workflows.jobs.import_history import read_past_jobs

CATALOGUE = load_catalogue()
TODAY = date(2026, 11, 29)
HEAD = "job,date,finding,outcome,minutes,paid,sold,sold_date"
GOOD = "a,2026-03-01,port-dirty,fixed,12,30,80,2026-04-01"


def read(*rows, sure=False, currency="EUR"):
    text = "\n".join([HEAD, *rows]) + "\n"
    return read_past_jobs(text.encode(), "jobs.csv", CATALOGUE, currency, None, sure, TODAY)


@pytest.mark.parametrize(
    ("row", "field", "said", "allowed"),
    [
        (GOOD.replace(",80,", ",1.240,"), "sold", "'1.240' is ambiguous", "1.24, or 1240"),
        (GOOD.replace(",30,", ",12.500,"), "paid", "'12.500' is ambiguous", "12.50, or 12500"),
        (GOOD.replace("2026-04-01", "2199-04-01"), "sold_date", "not a plausible date", "2026-11-29"),
        (GOOD.replace("2026-03-01", "1970-03-01"), "date", "not a plausible date", "1990"),
        (GOOD.replace(",12,", ",99999999,"), "minutes", "more than a week", "10000 minutes"),
    ],
)
def test_what_is_hardly_meant_is_asked_about_by_line_and_column(row, field, said, allowed):
    with pytest.raises(HistoryError) as problem:
        read("b,2026-03-01,port-dirty,fixed,12,30,80,2026-04-01", row)
    (fault,) = problem.value.faults
    assert (fault.line, fault.field) == (3, field)
    assert said in fault.wrong and allowed in fault.allowed and "--sure" in fault.allowed
    assert len(read(row, sure=True).jobs) == 1


def test_a_row_that_is_there_twice_is_no_second_try_unless_it_is_said_to_be():
    with pytest.raises(HistoryError) as problem:
        read(GOOD, "b,2026-03-01,port-dirty,fixed,12,30,80,2026-04-01", GOOD)
    (fault,) = problem.value.faults
    assert (fault.line, fault.field, fault.wrong) == (4, "row", "repeats line 2")
    assert len(read(GOOD, GOOD, sure=True).jobs) == 1
    # A second try that took other minutes is one.
    assert read(GOOD.replace("fixed", "not-fixed"), GOOD.replace(",12,", ",30,")).rows == 2


def test_amounts_of_a_currency_with_three_decimals_are_what_they_are():
    assert len(read(GOOD.replace(",80,", ",1.240,"), currency="KWD").jobs) == 1


def test_all_doubts_of_a_file_are_told_at_once():
    with pytest.raises(HistoryError) as problem:
        read(
            GOOD.replace(",80,", ",1.240,").replace(",12,", ",20000,"),
            "b" + GOOD[1:].replace(",30,", ",9.000,"),
        )
    assert [(fault.line, fault.field) for fault in problem.value.faults] == [
        (2, "minutes"), (2, "sold"), (3, "paid"),
    ]  # fmt: skip
