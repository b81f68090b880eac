"""Opening a record: created, upgraded or refused, with messages a user can act on."""

from __future__ import annotations

import os
import sqlite3
import stat
from datetime import date

import pytest
import sqlalchemy as sa

from triage.domain.job.records import Intake, Place
from triage.errors import LedgerBusyError, LedgerError, LedgerVersionError
from triage.ledger import migrating
from triage.ledger.migrating import Step, migrate, steps
from triage.ledger.opening import default_ledger_url, ledger_url, open_ledger


def test_a_new_file_belongs_to_its_owner_only(tmp_path):
    file = tmp_path / "new folder" / "record.sqlite"
    with pytest.raises(LedgerError, match="no record exists at"):
        open_ledger(file, create=False)
    open_ledger(file).close()
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    open_ledger(file, create=False).close()


def test_sqlite_has_the_required_settings(sqlite_url):
    ledger = open_ledger(sqlite_url)
    with ledger.reading() as reading:
        said = {name: reading.connection.exec_driver_sql(f"PRAGMA {name}").scalar()
                for name in ("journal_mode", "foreign_keys", "synchronous", "secure_delete")}  # fmt: skip
    ledger.close()
    assert said == {"journal_mode": "wal", "foreign_keys": 1, "synchronous": 2, "secure_delete": 1}


def test_the_location_of_a_record(monkeypatch, tmp_path):
    monkeypatch.setenv("TRIAGE_RECORD", "bench.sqlite")
    assert default_ledger_url() == "bench.sqlite"
    monkeypatch.delenv("TRIAGE_RECORD")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert default_ledger_url() == str(tmp_path / "bench-triage" / "record.sqlite")
    assert ledger_url("postgres://ada@bench/shop".replace("postgres:", "postgresql:")).drivername == (
        "postgresql+psycopg"
    )
    assert ledger_url("sqlite:///a.sqlite").database == "a.sqlite"


@pytest.mark.parametrize("address", ["mysql://x/y", "nonsense://", "sqlite://", "sqlite:///:memory:", "://"])
def test_other_addresses_are_refused(address):
    with pytest.raises(LedgerError, match="allowed: a file"):
        ledger_url(address)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"job,date\n1,2026-01-01\n" * 300, "not a database"),
        ("another program's", "a database of another program"),
        ("damaged", "damaged|malformed"),
    ],
)
def test_a_file_that_is_not_a_valid_record_is_refused_and_unchanged(tmp_path, content, words):
    file = tmp_path / "record.sqlite"
    if isinstance(content, bytes):
        file.write_bytes(content)
    elif content == "damaged":
        _filled(file)
        raw = bytearray(file.read_bytes())
        for page in range(4, len(raw) // 4096):
            raw[page * 4096 : page * 4096 + 200] = b"\xff" * 200
        file.write_bytes(raw)
    else:
        with sqlite3.connect(file) as other:
            other.execute("CREATE TABLE things (id)")
        other.close()
    before = file.read_bytes()
    with pytest.raises(LedgerError, match=words):
        open_ledger(file)
    assert file.read_bytes() == before or content == "another program's"


def test_a_folder_a_path_below_a_file_and_a_closed_port_are_refused(tmp_path):
    with pytest.raises(LedgerError, match="cannot be opened"):
        open_ledger(tmp_path)
    (tmp_path / "file").write_text("")
    with pytest.raises(LedgerError, match="cannot be created"):
        open_ledger(tmp_path / "file" / "record.sqlite")
    with pytest.raises(LedgerError, match="cannot be opened"):
        open_ledger("postgresql://nobody@127.0.0.1:1/none")


def _filled(file) -> None:
    ledger = open_ledger(file)
    with ledger.writing("ada") as writing:
        job = writing.open_job("SL-0001", "bought", "EUR", Intake(date(2026, 1, 2), "x"))
        for number in range(2000):
            writing.append(job, Place(f"shelf {number}"))
    ledger.close()


def test_a_record_of_a_newer_program_is_refused(ledger, ledger_url, monkeypatch):
    last = steps(ledger.engine.dialect.name)[-1].number
    with ledger.writing("x") as writing:
        writing.connection.exec_driver_sql(
            f"INSERT INTO migration VALUES ({last + 1}, 'later', '2030-01-01 00:00:00', '9.0')"
        )
    with pytest.raises(LedgerVersionError, match="newer program that wrote it"):
        open_ledger(ledger_url)


def _with_later_steps(monkeypatch, database: str, *statements: tuple[str, ...]) -> None:
    first = steps(database)
    later = tuple(Step(first[-1].number + n, f"later-{n}", found) for n, found in enumerate(statements, 1))
    monkeypatch.setattr(migrating, "steps", lambda _: (*first, *later))


def test_later_steps_are_applied_once_and_in_order(ledger, ledger_url, monkeypatch):
    name = ledger.engine.dialect.name
    _with_later_steps(
        monkeypatch, name,
        ("CREATE TABLE extra (a INTEGER)",), ("INSERT INTO extra VALUES (1)", "INSERT INTO extra VALUES (2)"),
    )  # fmt: skip
    assert migrate(ledger.engine) == 2
    assert migrate(ledger.engine) == 0
    open_ledger(ledger_url).close()
    with ledger.reading() as reading:
        assert reading.connection.exec_driver_sql("SELECT count(*) FROM extra").scalar() == 2
        rows = reading.connection.exec_driver_sql("SELECT number, name FROM migration ORDER BY number").all()
    told = [(step.number, step.name) for step in migrating.steps(name)]
    assert [(row.number, row.name) for row in rows] == told and told[-1][1] == "later-2"
    assert [number for number, _ in told] == sorted({number for number, _ in told})


def test_a_step_that_fails_leaves_nothing_behind(ledger, monkeypatch):
    name = ledger.engine.dialect.name
    _with_later_steps(
        monkeypatch, name, ("CREATE TABLE extra (a INTEGER)",), ("CREATE TABLE half (a INTEGER)", "NONSENSE")
    )
    with pytest.raises(sa.exc.DatabaseError):
        migrate(ledger.engine)
    tables = sa.inspect(ledger.engine).get_table_names()
    assert "extra" in tables and "half" not in tables
    with ledger.reading() as reading:
        last = reading.connection.exec_driver_sql("SELECT name FROM migration ORDER BY number DESC").scalar()
        assert last == "later-1"


def test_a_locked_file_gives_a_clear_message(sqlite_url, monkeypatch):
    monkeypatch.setattr("triage.ledger.opening.BUSY_SECONDS", 0.05)
    ledger, other = open_ledger(sqlite_url), open_ledger(sqlite_url)
    with other.writing("ben") as first:
        first.open_job("SL-0001", "bought", "EUR", Intake(date(2026, 1, 2), "x"))
        with pytest.raises(LedgerBusyError, match="somebody else; nothing was saved"):
            with ledger.writing("ada") as writing:
                writing.open_job("SL-0002", "bought", "EUR", Intake(date(2026, 1, 2), "x"))
        with ledger.reading() as reading:  # a reader is not held up
            assert reading.jobs() == ()
    with ledger.reading() as reading:
        assert [file.label for file in reading.jobs()] == ["SL-0001"]
    ledger.close()
    other.close()


def test_a_full_disk_gives_a_clear_message_and_loses_nothing(sqlite_url):
    """A limit on pages gives the error of a full disk; `test_hard_times.py` fills a real one."""
    ledger = open_ledger(sqlite_url)
    with ledger.writing("ada") as writing:
        job = writing.open_job("SL-0001", "bought", "EUR", Intake(date(2026, 1, 2), "x"))
    with pytest.raises(LedgerError, match="full; nothing was saved"), ledger.writing("ada") as writing:
        writing.connection.exec_driver_sql("PRAGMA max_page_count = 1")
        for _ in range(3000):
            writing.append(job, Place("x" * 200))
    ledger.close()
    again = open_ledger(sqlite_url)
    with again.reading() as reading:
        assert reading.job(job).places == ()
    again.close()
    assert os.path.exists(sqlite_url)


def test_what_became_of_parts_is_kept_through_the_upgrade_of_its_table(sqlite_url, monkeypatch):
    """On SQLite the table of fates is written anew: what was in it, and its guards, are there afterwards."""
    all_steps = steps("sqlite")
    before = tuple(step for step in all_steps if step.number < 8)
    monkeypatch.setattr(migrating, "steps", lambda _: before)
    old = open_ledger(sqlite_url)
    with old.engine.connect().execution_options(triage_writes=True) as connection, connection.begin():
        for statement in (
            "INSERT INTO job VALUES (1, 'SL-0001', 'bought', 'EUR', '2026-01-02 00:00:00', NULL, 1)",
            "INSERT INTO entry VALUES (1, 1, 1, '2026-01-02 00:00:00', 'ada', 'part_ordered', '')",
            "INSERT INTO part_ordered (entry_id, part, source, cost_minor, tax_minor, grade) "
            "VALUES (1, 'display', 'usual source', 100, 0, '')",
            "INSERT INTO entry VALUES (2, 1, 2, '2026-01-02 00:00:00', 'ada', 'part_fate', '')",
            "INSERT INTO part_fate VALUES (2, 1, '2026-01-03', 'arrived', 0, 'scuffed')",
        ):
            connection.exec_driver_sql(statement)
    old.close()
    monkeypatch.setattr(migrating, "steps", lambda _: all_steps)
    new = open_ledger(sqlite_url)
    with new.reading() as reading:
        rows = reading.connection.exec_driver_sql("SELECT * FROM part_fate").all()
    assert [tuple(row) for row in rows] == [(2, 1, "2026-01-03", "arrived", 0, "scuffed")]
    with pytest.raises(LedgerError, match="never changed"), new.writing("ada") as writing:
        writing.connection.exec_driver_sql("UPDATE part_fate SET note = ''")
    new.close()
