"""Entries are never changed, corrections keep the corrected entry, nothing is lost; on both databases."""

from __future__ import annotations

from datetime import date

import pytest
import sqlalchemy as sa
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from triage.domain.job.records import FoundDamage, Intake, Moved, Payment, Place, StopResolved
from triage.domain.shop.shelf import PriceFound, ShelfMoved, ShelfPart
from triage.errors import LedgerConflictError, LedgerError
from triage.ledger import tables
from triage.ledger.drafts import StoredDraft, new_token, read_draft, save_draft

DAY = date(2026, 3, 2)


def intake(**more) -> Intake:
    return Intake(DAY, 'name = "grey tablet"', **more)


def opened(ledger, label="SL-0001") -> int:
    with ledger.writing("ada") as writing:
        return writing.open_job(label, "bought", "EUR", intake(ask_minor=4550))


def test_a_job_reads_back_as_it_was_written(ledger):
    job = opened(ledger)
    paid = Payment("purchase", -4550, DAY, "cash, 'no' receipt\n; DROP TABLE job")
    with ledger.writing("ben") as writing:
        writing.append(job, Moved("take", "taken", DAY))
        writing.append(job, paid)
        writing.append(job, Place("isolation box"))
    with ledger.reading() as reading:
        file = reading.job(job)
        assert reading.job_labelled("SL-0001") == file
        assert reading.jobs() == (file,)
    assert (file.state, file.route, file.currency) == ("taken", "bought", "EUR")
    assert file.intake.record.ask_minor == 4550
    assert file.payments[0].record == paid
    assert [kept.by for kept in (*file.moves, *file.payments)] == ["ben", "ben"]
    ids = [file.intake.id, file.moves[0].id, file.payments[0].id, file.places[0].id]
    assert ids == sorted(ids), "ids grow in order of writing, across kinds of record"


def test_a_correction_is_valid_and_keeps_the_corrected_entry(ledger):
    job = opened(ledger)
    with ledger.writing("ada") as writing:
        bend = writing.append(job, FoundDamage("frame-bent", severity=1))
        glass = writing.append(job, FoundDamage("display-glass-cracked"))
        again = writing.append(
            job, FoundDamage("frame-bent", severity=3), replaces=bend, why="measured: 1.2 mm"
        )
    assert again == bend, "others go on referring to it by the same number"
    with ledger.writing("ben") as writing:
        writing.append(job, FoundDamage("frame-bent", severity=2), replaces=bend, why="misread")
        writing.withdraw(job, glass, "it was a film")
    with ledger.reading() as reading:
        (found,) = reading.job(job).findings
        trail = reading.audit(job)
    assert (found.id, found.record.severity, found.why, found.corrected) == (bend, 2, "misread", True)
    changes = [(line.by, getattr(line.was, "severity", None), getattr(line.now, "severity", None), line.why)
               for line in trail if line.why]  # fmt: skip
    assert changes == [
        ("ada", 1, 3, "measured: 1.2 mm"),
        ("ben", 3, 2, "misread"),
        ("ben", 2, None, "it was a film"),
    ]
    assert len(trail) == 6


@pytest.mark.parametrize("case", ["this job has no entry", "another job's", "another kind", "taken out"])
def test_a_correction_must_fit_what_it_corrects(ledger, case):
    job, other = opened(ledger), opened(ledger, "SL-0002")
    with ledger.writing("ada") as writing:
        bend = writing.append(job, FoundDamage("frame-bent"))
        gone = writing.append(job, FoundDamage("back-glass-cracked"))
        writing.withdraw(job, gone, "typo")
    about, record, root = {
        "this job has no entry": (job, FoundDamage("frame-bent"), 999),
        "another job's": (other, FoundDamage("frame-bent"), bend),
        "another kind": (job, Place("shelf"), bend),
        "taken out": (job, FoundDamage("frame-bent"), gone),
    }[case]
    with pytest.raises(LedgerError, match="this job has no entry"), ledger.writing("ada") as writing:
        writing.append(about, record, replaces=root, why="x")


def test_nothing_is_changed_or_deleted_by_anyone(ledger):
    job = opened(ledger)
    with ledger.writing("ada") as writing:
        writing.append(job, Moved("take", "taken", DAY))
    with ledger.reading() as reading:
        before = reading.job(job)
    for table in (*tables.KEPT, tables.job):
        column = "label" if table is tables.job else list(table.c)[-1].name
        for statement in (f"DELETE FROM {table.name}", f'UPDATE {table.name} SET "{column}" = "{column}"'):
            with ledger.reading() as reading:
                rows = reading.connection.exec_driver_sql(f"SELECT count(*) FROM {table.name}").scalar()
            if rows:
                with pytest.raises(LedgerError, match="nothing was saved"), ledger.writing("x") as writing:
                    writing.connection.exec_driver_sql(statement)
    with ledger.reading() as reading:
        assert reading.job(job) == before


def test_every_append_only_table_has_its_triggers(ledger):
    """The loop above covers only tables with rows; the triggers must be on all tables."""
    with ledger.reading() as reading:
        if ledger.engine.dialect.name == "sqlite":
            query = "SELECT tbl_name, count(*) FROM sqlite_master WHERE type = 'trigger' GROUP BY tbl_name"
        else:
            query = (
                "SELECT event_object_table, count(DISTINCT event_manipulation) "
                "FROM information_schema.triggers GROUP BY event_object_table"
            )
        found = {row[0]: row[1] for row in reading.connection.exec_driver_sql(query)}
    assert found == {table.name: 2 for table in (*tables.KEPT, tables.job)}


def test_an_outdated_version_of_a_job_cannot_change_it(ledger):
    job = opened(ledger)
    with ledger.reading() as reading:
        seen = reading.job(job).version
    with ledger.writing("ada") as writing:
        writing.expect(job, seen)
        writing.append(job, Place("shelf 2"))
        writing.append(job, Place("shelf 3"))
    with pytest.raises(LedgerConflictError, match="somebody else"), ledger.writing("ben") as writing:
        writing.expect(job, seen)
        writing.append(job, Place("bin"))
    with ledger.reading() as reading:
        file = reading.job(job)
    assert [kept.record.where for kept in file.places] == ["shelf 2", "shelf 3"]
    assert file.version == seen + 1, "one change, one step, however many records"


def test_a_transaction_is_complete_or_absent(ledger):
    job = opened(ledger)
    with pytest.raises(ZeroDivisionError), ledger.writing("ada") as writing:
        writing.append(job, Place("shelf 2"))
        writing.open_job("SL-0002", "walk-in", "EUR", intake())
        _ = 1 / 0
    with ledger.reading() as reading:
        assert [file.label for file in reading.jobs()] == ["SL-0001"]
        assert reading.job(job).places == ()


def test_the_database_refuses_values_outside_its_constraints(ledger):
    job = opened(ledger)
    for record in (FoundDamage("frame-bent", known_at="later"), StopResolved(12345, "asked"), Place(None)):
        with pytest.raises(LedgerError, match="refuses this"), ledger.writing("ada") as writing:
            writing.append(job, record)
    with pytest.raises(LedgerError, match="refuses this"):
        opened(ledger)  # the label is taken


def test_jobs_by_state_follow_the_last_move(ledger):
    first, second, third = (opened(ledger, f"SL-000{n}") for n in (1, 2, 3))
    with ledger.writing("ada") as writing:
        take = writing.append(first, Moved("take", "taken", DAY))
        writing.append(first, Moved("start", "in-work", DAY))
        writing.append(second, Moved("take", "taken", DAY))
        wrong = writing.append(second, Moved("start", "in-work", DAY))
        # A corrected date of an early move does not make it the last one.
        writing.append(first, Moved("take", "taken", date(2026, 3, 1)), replaces=take, why="date")
        writing.withdraw(second, wrong, "another device")
    with ledger.reading() as reading:
        for states in (("considered",), ("taken",), ("in-work",), ("sold",), ("taken", "in-work")):
            found = [file.id for file in reading.jobs(states)]
            assert found == [file.id for file in reading.jobs() if file.state in states]
        assert [file.state for file in reading.jobs()] == ["in-work", "taken", "considered"]
        assert [file.id for file in reading.jobs(("considered",))] == [third]
        assert [file.id for file in reading.jobs(("taken", "in-work"), newest=1)] == [second]


def test_a_passcode_is_erased_for_good(ledger, tmp_path):
    job = opened(ledger)
    secret = "passcode-731-942"
    with ledger.writing("ada") as writing:
        writing.keep_passcode(job, "0000")
        writing.keep_passcode(job, secret)
    with ledger.reading() as reading:
        assert (reading.passcode(job), reading.job(job).has_passcode) == (secret, True)
        assert secret not in repr(reading.job(job)) + repr(reading.audit(job))
    with ledger.writing("ada") as writing:
        writing.erase_passcode(job)
    with ledger.reading() as reading:
        assert (reading.passcode(job), reading.job(job).has_passcode) == ("", False)
    for file in tmp_path.iterdir():  # the file and its write-ahead log
        assert secret.encode() not in file.read_bytes()


def test_shelf_and_prices(ledger):
    job = opened(ledger)
    price = PriceFound("display-panel", "usual source", 4200, "EUR", DAY, tier="upper")
    with ledger.writing("ada") as writing:
        part = writing.shelf_append(ShelfPart("camera-rear", 900, "EUR", donor=job, tested=True))
        writing.claim_shelf(part)
        writing.shelf_append(ShelfMoved(part, "reserved", job))
        noted = writing.shelf_append(price)
        writing.shelf_append(PriceFound(**{**vars(price), "cost_minor": 4300}), replaces=noted, why="misread")
    with ledger.reading() as reading:
        assert [kept.record.part for kept in reading.shelf()] == ["camera-rear"]
        assert [kept.record.move for kept in reading.shelf_moves()] == ["reserved"]
        assert [kept.record.cost_minor for kept in reading.prices_found()] == [4300]


def test_a_draft_is_stored_under_its_token(ledger):
    token = new_token()
    assert read_draft(ledger, token) is None
    save_draft(ledger, token, StoredDraft("a", 84.5, False, "EUR"))
    save_draft(ledger, token, StoredDraft("ab", None, True, "EUR"))
    assert read_draft(ledger, token) == StoredDraft("ab", None, True, "EUR")
    assert len({new_token() for _ in range(100)}) == 100


def test_labels_continue_counting(ledger):
    with ledger.reading() as reading:
        assert reading.next_label("SL") == "SL-0001"
    for label in ("SL-0009", "SL-0010", "XX-0044", "SL-12x"):
        opened(ledger, label)
    with ledger.reading() as reading:
        assert reading.next_label("SL") == "SL-0011"


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    words=st.text(st.characters(exclude_categories=("Cs",), exclude_characters="\0"), max_size=30),
    minor=st.integers(-(2**53), 2**53),
    chance=st.floats(0, 1),
)
def test_any_text_and_number_reads_back(ledger, words, minor, chance):
    with ledger.writing(words) as writing:
        job = writing.open_job(new_token(), "walk-in", "EUR", intake(person=words, ask_minor=minor))
        writing.append(job, FoundDamage("frame-bent", note=words, chance=chance))
    with ledger.reading() as reading:
        file = reading.job(job)
    assert (file.intake.record.person, file.intake.record.ask_minor, file.intake.by) == (words, minor, words)
    assert (file.findings[0].record.note, file.findings[0].record.chance) == (words, chance)


def test_a_null_character_is_refused_with_a_clear_message(ledger):
    """PostgreSQL cannot store one; SQLite can. Neither may end in a traceback."""
    try:
        with ledger.writing("ada") as writing:
            writing.open_job("SL-0001", "bought", "EUR", intake(person="a\0b"))
    except LedgerError as refusal:
        assert "nothing was saved" in str(refusal)


def test_schema_of_the_first_step_is_that_of_the_tables(ledger):
    found = sa.inspect(ledger.engine)
    assert set(found.get_table_names()) == set(tables.metadata.tables)
    for name, table in tables.metadata.tables.items():
        columns = {column["name"]: column for column in found.get_columns(name)}
        assert list(columns) == [column.name for column in table.c], name
        for column in table.c:
            if not column.primary_key:
                assert columns[column.name]["nullable"] == column.nullable, f"{name}.{column.name}"
        keys = {
            (key["constrained_columns"][0], key["referred_table"]) for key in found.get_foreign_keys(name)
        }
        assert keys == {(k.parent.name, k.column.table.name) for k in table.foreign_keys}, name
