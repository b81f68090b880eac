"""The plain history format: what is read, what is refused, what the cut-off removes."""

from __future__ import annotations

from datetime import date

import pandas as pd
import pytest

from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import DamageKind, Repair
from triage.errors import HistoryError
from triage.ledger.history.history_csv import parse_history, read_history

KINDS = ("port-dirty", "cell-worn", "frame-bent", "joint-cracked")
CATALOGUE = Catalogue(
    kind=tuple(DamageKind(slug, slug, "f") for slug in KINDS),
    repair=(Repair("clean-port", "x", ("port-dirty",)), Repair("swap-cell", "x", ("cell-worn",))),
)
BARE = "job,date,finding,outcome\n7,2026-01-05,port-dirty,fixed\n"


def read(text: str, as_of: date | None = None):
    return parse_history(text, "jobs.csv", CATALOGUE, as_of)


def faults(text: str, as_of: date | None = None) -> list[str]:
    with pytest.raises(HistoryError) as problem:
        read(text, as_of)
    return [str(fault) for fault in problem.value.faults]


def test_the_four_required_columns_are_enough():
    history = read(BARE)
    assert list(history.rows.columns) == ["job", "date", "finding", "outcome"]
    assert history.as_of == date(2026, 1, 5)
    assert not history.has("tier")


def test_byte_order_mark_blank_lines_and_padding_are_tolerated(tmp_path):
    path = tmp_path / "jobs.csv"
    text = "\ufeff\njob , date,finding,outcome\n\n 7,2026-01-05, port-dirty ,fixed\n,,,\n\n"
    path.write_text(text, encoding="utf-8")
    history = read_history(path, CATALOGUE)
    assert history.rows.to_dict("records") == [
        {"job": "7", "date": pd.Timestamp("2026-01-05"), "finding": "port-dirty", "outcome": "fixed"}
    ]


def test_blank_cells_mean_unknown_and_severity_two():
    text = (
        "job,date,finding,outcome,severity,minutes,paid,tier,method\n"
        "7,2026-01-05,port-dirty,fixed,,,,,\n8,2026-01-06,cell-worn,not-fixed,3,41.5,60,top,swap-cell\n"
    )
    rows = read(text).rows
    assert rows["severity"].tolist() == [2, 3]
    assert rows["minutes"].isna().tolist() == [True, False]
    assert rows["paid"].tolist()[1] == 60.0
    assert rows["tier"].tolist() == ["", "top"]


def test_a_job_value_may_stand_on_one_row_of_its_job():
    text = (
        "job,date,finding,outcome,tier,sold,sold_date,hidden_faults\n"
        "7,2026-01-05,port-dirty,fixed,,,,\n"
        "7,2026-01-05,cell-worn,fixed,top,210.5,2026-02-01,none\n"
        "8,2026-01-06,cell-worn,fixed,,,,joint-cracked;frame-bent\n"
    )
    history = read(text)
    jobs = history.jobs
    assert jobs.loc["7", "tier"] == "top" and jobs.loc["7", "sold"] == 210.5
    assert jobs["hidden_faults"].tolist() == ["none", "joint-cracked;frame-bent"]
    assert pd.isna(jobs.loc["8", "sold"])


def test_every_fault_is_reported_with_its_line_and_what_is_allowed():
    text = (
        "job,date,finding,outcome,severity,minutes,why_not,tier\n"
        "7,05/01/2026,port-dirt,fixed,2,10,,top\n"
        "\n"
        '7,2026-01-05,cell-worn,mended,4,"1,5",,top\n'
        ",2026-01-05,cell-worn,fixed,2,-3,no-part,top\n"
        "9,2026-01-05,cell-worn,fixed\n"
    )
    found = faults(text)
    assert [fault.split(":")[0] for fault in found] == [
        "jobs.csv, line 2, date",
        "jobs.csv, line 2, finding",
        "jobs.csv, line 4, outcome",
        "jobs.csv, line 4, severity",
        "jobs.csv, line 4, minutes",
        "jobs.csv, line 5, job",
        "jobs.csv, line 5, minutes",
        "jobs.csv, line 6, row",
    ]
    text = "\n".join(found)
    assert "'port-dirt' is not a known finding; nearest known: port-dirty" in text
    assert "allowed: a date written as 2026-03-31" in text
    assert "fixed, not-fixed, not-attempted" in text


def test_columns_of_one_job_must_agree():
    text = (
        "job,date,finding,outcome,tier\n"
        "7,2026-01-05,port-dirty,fixed,top\n7,2026-01-06,cell-worn,fixed,budget\n"
    )
    found = faults(text)
    assert len(found) == 2
    assert "line 3, date: '2026-01-06' differs from line 2 of the same job '7'" in found[0]
    assert "line 3, tier: 'budget' differs" in found[1]


def test_contradictory_values_are_refused():
    text = "job,date,finding,outcome,why_not,closed\n7,2026-01-05,port-dirty,fixed,no-part,2025-12-31\n"
    found = "\n".join(faults(text))
    assert "is before the intake on 2026-01-05" in found
    assert "'no-part' is given for an outcome of 'fixed'" in found


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "is empty"),
        ("job,date,finding,outcome\n", "has no rows"),
        ("job,date,finding\n7,2026-01-05,port-dirty\n", "'outcome' is missing"),
        (BARE.replace("outcome", "outcme"), "nearest known: outcome"),
        (BARE.replace("job,", "job,job,", 1).replace("7,", "7,7,", 1), "'job' is given twice"),
        (BARE.replace("outcome\n", "outcome,method\n").replace("fixed\n", "fixed,swop-cell\n"), "swap-cell"),
    ],
)
def test_a_file_of_the_wrong_shape_is_refused(text, said):
    assert any(said in fault for fault in faults(text))


def test_a_depth_needs_a_look():
    text = BARE.replace("outcome\n", "outcome,hidden_faults,look_depth\n")
    (depth,) = read(text.replace("fixed\n", "fixed,none,board-out\n")).jobs["look_depth"]
    assert depth == "board-out"
    (said,) = faults(text.replace("fixed\n", "fixed,,board-out\n"))
    assert "line 2" in said and "look_depth" in said and "hidden_faults is blank" in said


def test_methods_are_free_text_where_the_catalogue_names_no_repair():
    catalogue = Catalogue(kind=CATALOGUE.kind)
    text = BARE.replace("outcome\n", "outcome,method\n").replace("fixed\n", "fixed,anything\n")
    assert parse_history(text, "jobs.csv", catalogue).rows["method"].tolist() == ["anything"]


def test_a_file_that_is_not_text_is_named(tmp_path):
    path = tmp_path / "jobs.csv"
    path.write_bytes(b"\xff\xfe\x00job")
    with pytest.raises(HistoryError, match="is not UTF-8 text"):
        read_history(path, CATALOGUE)
    with pytest.raises(HistoryError, match="nowhere.csv"):
        read_history(tmp_path / "nowhere.csv", CATALOGUE)


LATER = (
    "job,date,finding,outcome,closed,sold,sold_date,comeback_date,comeback_kind\n"
    "1,2026-01-05,port-dirty,fixed,2026-01-08,100,2026-02-20,2026-03-10,same-fault\n"
    "2,2026-01-20,cell-worn,fixed,2026-02-15,,,,\n"
    "3,2026-02-25,cell-worn,not-fixed,2026-02-26,,,,\n"
)


def test_default_cut_off_is_the_last_date_of_any_column():
    assert read(LATER).as_of == date(2026, 3, 10)


def test_nothing_after_the_cut_off_is_read():
    rows = read(LATER, date(2026, 2, 1)).rows
    assert rows["job"].tolist() == ["1"]  # 2 was still on the bench, 3 not taken in
    assert rows[["sold", "sold_date", "comeback_date"]].isna().all(axis=None)
    assert rows["comeback_kind"].tolist() == [""]
    sold = read(LATER, date(2026, 2, 28)).rows
    assert sold["sold"].tolist()[0] == 100.0
    assert sold["comeback_date"].isna().all()


def test_a_cut_off_before_the_first_job_is_refused():
    assert "no job was received by 2025-01-01" in faults(LATER, date(2025, 1, 1))[0]
