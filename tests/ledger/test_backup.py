"""Backup during writes and checked restore: never an incomplete record, never over another one."""

from __future__ import annotations

import sqlite3
import threading
from datetime import date

import pytest

from triage.domain.job.records import FoundDamage, Intake
from triage.errors import LedgerError, LedgerVersionError
from triage.ledger.backup import back_up, restore
from triage.ledger.opening import open_ledger
from triage.ledger.summary import summary


def add_job(ledger, label, damages=40):
    with ledger.writing("ada") as writing:
        job = writing.open_job(label, "bought", "EUR", Intake(date(2026, 3, 2), "x" * 2000))
        for _ in range(damages):
            writing.append(job, FoundDamage("frame-bent", note="y" * 200))


@pytest.fixture
def ledger(tmp_path):
    opened = open_ledger(tmp_path / "record.sqlite")
    add_job(opened, "SL-0001")
    yield opened
    opened.close()


def test_a_copy_made_during_writes_is_complete(ledger, tmp_path):
    stop = threading.Event()

    def write():
        number = 2
        while not stop.is_set():
            add_job(ledger, f"SL-{number:04d}")
            number += 1

    at_work = threading.Thread(target=write)
    at_work.start()
    try:
        copies = [back_up(ledger, tmp_path / f"copy-{place}") for place in range(5)]
    finally:
        stop.set()
        at_work.join()
    assert copies[-1].jobs > copies[0].jobs  # writers went on
    for copy in copies:
        assert copy.entries == 41 * copy.jobs  # whole transactions only
        made = restore(copy.file, tmp_path / f"new-{copy.file.name}.sqlite")
        assert (made.jobs, made.entries) == (copy.jobs, copy.entries)
        opened = open_ledger(made.file)
        with opened.reading() as reading:
            assert len(reading.job_labelled("SL-0001").findings) == 40
        opened.close()
        assert oct(made.file.stat().st_mode)[-3:] == "600"
    assert not list(tmp_path.glob(".*")) and not list(tmp_path.glob("copy*-wal"))


def test_a_record_is_never_overwritten_and_one_in_use_never_moved(ledger, tmp_path):
    copy = back_up(ledger, tmp_path / "copy")
    with pytest.raises(LedgerError, match="--force"):
        back_up(ledger, tmp_path / "copy")
    with pytest.raises(LedgerError, match="is the record itself"):
        back_up(ledger, tmp_path / "record.sqlite", force=True)
    add_job(ledger, "SL-0002")
    before = summary(ledger)
    with pytest.raises(LedgerError, match="already exists"):
        restore(copy.file, tmp_path / "record.sqlite")
    with ledger.reading() as reading, pytest.raises(LedgerError, match="is in use"):
        reading.labels()
        restore(copy.file, tmp_path / "record.sqlite", force=True)
    assert summary(ledger) == before
    ledger.close()
    made = restore(copy.file, tmp_path / "record.sqlite", force=True)
    assert made.jobs == 1 and made.aside
    aside = open_ledger(made.aside)
    assert summary(aside).jobs == 2
    aside.close()


def change(path, *statements):
    connection = sqlite3.connect(path)
    for statement in statements:
        connection.execute(statement)
    connection.commit()
    connection.close()


@pytest.mark.parametrize(
    ("harm", "said"),
    [
        (lambda path: path.write_bytes(b""), "not a record of this program"),
        (lambda path: path.write_bytes(b"plain text, and long enough for a header" * 40), "cannot be"),
        (lambda path: path.write_bytes(path.read_bytes()[: path.stat().st_size // 2]), "damaged|cannot be"),
        (lambda path: change(path, "PRAGMA application_id = 7"), "not a record of this program"),
        (lambda path: path.unlink(), "no backup"),
    ],
)
def test_an_incomplete_backup_is_refused(ledger, tmp_path, harm, said):
    copy = back_up(ledger, tmp_path / "copy").file
    harm(copy)
    with pytest.raises(LedgerError, match=said):
        restore(copy, tmp_path / "new.sqlite")
    assert not (tmp_path / "new.sqlite").exists() and not list(tmp_path.glob(".*"))


def test_a_backup_of_a_newer_program_is_refused(ledger, tmp_path):
    copy = back_up(ledger, tmp_path / "copy").file
    change(copy, "INSERT INTO migration VALUES (9999, 'later', '2030-01-01', '9')")
    with pytest.raises(LedgerVersionError):
        restore(copy, tmp_path / "new.sqlite")
    assert not (tmp_path / "new.sqlite").exists()


def test_a_server_record_is_referred_to_the_servers_own_backup_tools():
    with pytest.raises(LedgerError, match="pg_dump"):
        restore(__file__, "postgresql://bench@localhost/record")
