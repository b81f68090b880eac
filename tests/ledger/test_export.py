"""Export: the table of the record, safe to open in a spreadsheet, without personal data."""

from __future__ import annotations

import csv
from datetime import date

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.ledger.job_files import job_file
from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import DamageKind
from triage.domain.job.records import Attempt, FoundDamage, Intake, Moved, Payment
from triage.errors import LedgerError
from triage.ledger.export import write_csv, write_parquet
from triage.ledger.history.history_cells import guarded, unguarded
from triage.ledger.history.history_csv import read_history
from triage.ledger.history.history_rows import rows_of

RISKY = ("=1+1", "+1", "-north", "@sum", "'=1", "''@x")


def jobs():
    day = date(2026, 3, 2)
    for place, text in enumerate(RISKY):
        yield job_file(
            f"{text}{place}",
            "bought",
            Intake(
                day,
                "[device]",
                tier=text,
                technician=text,
                person="Ulla Fern",
                contact="0170 555",
                name="secret",
            ),
            FoundDamage("frame-bent", 2, text),
            Attempt("frame-bent", "fixed", text, "", 12.5, 1234),
            Payment("purchase", -4050, day),
            Moved("make-ready", "ready", day),
        )


ROWS = [row for job in jobs() for row in rows_of(job)]


def test_text_that_looks_like_a_formula_is_made_safe_and_read_back(tmp_path):
    path = tmp_path / "jobs.csv"
    write_csv(ROWS, path)
    text = path.read_text(encoding="utf-8")
    for cells in csv.reader(text.splitlines()):
        assert not any(cell.startswith(("=", "+", "-", "@", "\t", "\r")) for cell in cells)
    assert "Ulla" not in text and "0170" not in text and "secret" not in text
    back = read_history(path, Catalogue(kind=(DamageKind("frame-bent", "bent frame", "housing"),))).rows
    for column in ("job", "tier", "technician", "zone", "method"):
        assert back[column].tolist() == [row[column] for row in ROWS]
    assert back["parts_cost"].tolist() == [12.34] * len(RISKY)


@given(st.text(alphabet="'=+-@\t\rab"))
def test_guarded_text_is_never_a_formula_and_reads_back(text):
    assert not guarded(text).startswith(("=", "+", "-", "@", "\t", "\r"))
    assert unguarded(guarded(text)) == text


def test_parquet_holds_the_same_with_types(tmp_path):
    path = tmp_path / "jobs.parquet"
    write_parquet(ROWS, path, ["EUR"])
    table = pd.read_parquet(path)
    back = [{name: "" if pd.isna(v) else v for name, v in row.items()} for row in table.to_dict("records")]
    assert [str(row["paid"]) for row in back] == ["40.50"] * len(RISKY)
    assert back[0]["closed"] == date(2026, 3, 2) and back[0]["severity"] == 2 and back[0]["minutes"] == 12.5
    assert [row["tier"] for row in back] == list(RISKY)  # no guard: Parquet text is never read as a formula
    assert all(str(row["comeback_kind"]) == "" for row in back)


def test_an_existing_file_is_kept_and_a_failed_write_leaves_nothing(tmp_path):
    path = tmp_path / "jobs.csv"
    path.write_text("mine")
    with pytest.raises(LedgerError, match="--force"):
        write_csv(ROWS, path)
    assert path.read_text() == "mine"
    with pytest.raises(LedgerError, match="cannot be written"):
        write_csv(ROWS, tmp_path / "nowhere" / "jobs.csv")
    write_csv(ROWS, path, force=True)
    assert [file.name for file in tmp_path.iterdir()] == ["jobs.csv"]
