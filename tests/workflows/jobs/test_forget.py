"""A person is forgotten: no file of the shop says who they were, also after an older copy was put back."""

from __future__ import annotations

import sqlite3
from dataclasses import replace
from datetime import timedelta

import pytest
from typer.testing import CliRunner

from tests.workflows.at_the_desk import CLEAR, DAY, AtTheDesk
from triage.cli.main import cli
from triage.domain.job.forgetting import people_in
from triage.domain.job.records import FoundDamage, Intake, PersonForgotten, Place
from triage.errors import LedgerError
from triage.ledger import backup
from triage.ledger.drafts import StoredDraft, new_token, save_draft
from triage.ledger.opening import open_ledger
from triage.workflows.backup.back_up import back_up_shop
from triage.workflows.backup.daily import daily_copy
from triage.workflows.backup.restore import restore_shop
from triage.workflows.jobs.erasure_list import erasure_list, forget_again
from triage.workflows.jobs.forget import forget_person, people_due
from triage.workflows.jobs.intake import consider, decline, keep_passcode, look_at_battery
from triage.workflows.jobs.record_keeper import RecordKeeper, correct

NAME, REACHED, SHOWN, CODE = "Wilhelmina Quarrel", "0-555-0177", "card 88-QX-1", "7391-zebra"
SERIAL = "SN 4417-KX"
TOLD = Intake(DAY, CLEAR, person=NAME, contact=REACHED, identity_shown=SHOWN, serial_numbers=SERIAL)


def declined(keeper, person=NAME, **more):
    """An owner's device that came, whose owner was named, misspelt once, and that went again."""
    job = AtTheDesk(keeper, consider(keeper, replace(TOLD, person=person[:-1], **more), "walk-in"))
    save_draft(keeper.ledger, new_token(), StoredDraft(f"# {person}", job=job.file.id))
    job.do(keep_passcode, CODE)
    job.do(correct, job.file.intake.id, "misspelt", person=person)
    job.do(look_at_battery)
    job.do(decline, DAY)
    return job


def forget(job, on=DAY, why="on request"):
    done = forget_person(job.keeper, job.file.id, job.file.version, on, why)
    job.file = done.job
    return done


def places_of(folder, *words):
    """Files below a folder that hold any of some words, in any of their bytes."""
    wanted = [word.encode() for word in words]
    files = [path for path in folder.rglob("*") if path.is_file()]
    return [path.name for path in files if any(word in path.read_bytes() for word in wanted)]


def test_the_record_forgets_who_and_keeps_the_job(keeper):
    job, other = declined(keeper), declined(keeper, "Somebody Else")
    before = job.file
    done = forget(job)
    told = job.file.intake.record
    people = {"person": NAME, "contact": REACHED, "identity_shown": SHOWN, "serial_numbers": SERIAL}
    assert [getattr(told, field) for field in people] == [""] * 4 and not job.file.has_passcode
    assert replace(told, **people) == before.intake.record
    assert (job.file.findings, job.file.moves) == (before.findings, before.moves)
    assert [kept.record for kept in job.file.forgotten] == [PersonForgotten(DAY, "on request")]
    assert "older backups" in done.not_reached[0]
    with keeper.ledger.reading() as reading:
        assert reading.job(other.file.id) == other.file  # nobody else is
        said = repr([(line.was, line.now) for line in reading.audit(job.file.id)])
    assert NAME not in said and NAME[:-1] not in said and "PersonForgotten" in said


def test_no_file_of_the_shop_holds_it_any_more(tmp_path, shop):
    ledger = open_ledger(tmp_path / "record.sqlite")
    keeper = RecordKeeper(ledger, shop, by="ada")
    job = noted(keeper)
    said = (NAME, NAME[:-1], NAME.upper(), REACHED, SHOWN, SERIAL, CODE)
    assert places_of(tmp_path, *said)
    forget(job)
    assert places_of(tmp_path, *said) == []
    ledger.close()
    assert places_of(tmp_path, *said) == []


def noted(keeper):
    """The same, with the owner named where anybody may type: notes, places, descriptions, reasons."""
    job = declined(keeper, name=f"{NAME}'s phone", description=f"# {SERIAL}\n{CLEAR}")
    with job.keeper.changing(job.file.id, job.file.version) as change:
        change.append(FoundDamage("frame-bent", note=f"says {NAME.upper()}, call {REACHED}"))
        change.append(Place(f"shelf of {NAME}"))
        job.file = change.now()
    job.do(correct, job.file.intake.id, f"{NAME} rang", came_with="a sleeve")
    return job


def test_notes_and_descriptions_name_nobody_and_say_the_rest(keeper):
    job, other = noted(keeper), noted(keeper)
    before = job.file
    forget(job)
    with keeper.ledger.reading() as reading:
        assert reading.job(other.file.id) == other.file
        why = [line.why for line in reading.audit(job.file.id)]
    assert job.file.findings[-1].record == FoundDamage("frame-bent", note="says [erased], call [erased]")
    assert job.file.places[-1].record.where == "shelf of [erased]"
    told = job.file.intake.record
    assert told.name == "[erased]'s phone" and told.description == f"# [erased]\n{CLEAR}"
    assert "[erased] rang" in why and job.file.moves == before.moves
    with keeper.ledger.reading() as reading, pytest.raises(Exception, match="never changed"):
        reading.connection.exec_driver_sql("UPDATE found_damage SET note = 'x'")


def test_a_common_word_for_a_person_takes_nothing_out_of_the_record(keeper):
    """Short names, and a contact or a proof that is only a word, are not looked for in notes."""
    job = AtTheDesk(
        keeper, consider(keeper, Intake(DAY, CLEAR, person="Bo", contact="phone", identity_shown="passport"),
                         "walk-in"),
    )  # fmt: skip
    with keeper.changing(job.file.id, job.file.version) as change:
        change.append(FoundDamage("frame-bent", note="phone and passport seen, Bo says"))
        job.file = change.now()
    job.do(look_at_battery)
    job.do(decline, DAY)
    forget(job)
    assert job.file.findings[-1].record == FoundDamage("frame-bent", note="phone and passport seen, Bo says")


def test_a_server_s_tables_hold_it_no_more(keeper):
    if keeper.ledger.engine.dialect.name != "postgresql":
        pytest.skip("a record in a file is searched byte by byte above")
    job = declined(keeper)
    done = forget(job)
    assert "write-ahead files" in done.not_reached[1]
    with keeper.ledger.reading() as reading:
        for table in ("personal", "passcode", "draft", "intake"):
            rows = reading.connection.exec_driver_sql(f"SELECT * FROM {table}").all()
            assert NAME not in repr(rows) and CODE not in repr(rows)


def test_nobody_is_forgotten_while_the_device_is_here_or_without_a_reason(keeper):
    job = AtTheDesk(keeper, consider(keeper, TOLD, "walk-in"))
    assert "still needs its owner" in job.refused(forget_person, DAY, "on request")[0]
    gone = declined(keeper)
    assert gone.refused(forget_person, DAY, " ") == (
        "enter the reason, such as on request or retention time is over",
    )
    forget(gone)
    assert gone.refused(forget_person, DAY, "again") == ("the job holds no personal data",)


@pytest.mark.parametrize("whole", [True, False])
def test_an_older_copy_that_is_put_back_is_erased_before_it_counts(tmp_path, shop, monkeypatch, whole):
    home = tmp_path / "shop"
    monkeypatch.setenv("TRIAGE_RECORD", str(home / "record.sqlite"))
    monkeypatch.delenv("TRIAGE_BELIEFS", raising=False)
    ledger = open_ledger()
    keeper = RecordKeeper(ledger, shop, by="ada")
    job = declined(keeper)
    back_up_shop(tmp_path / "shop.zip")
    backup.back_up(ledger, tmp_path / "record-before.sqlite")
    forget(job)
    ledger.close()
    assert NAME not in erasure_list(ledger.engine.url).read_text()

    (home / "record.sqlite").unlink()
    if whole:
        restore_shop(tmp_path / "shop.zip")
    else:
        said = CliRunner().invoke(cli, ["record", "restore", str(tmp_path / "record-before.sqlite")])
        assert said.exit_code == 0 and "Personal data erased again" in said.output
    assert places_of(home, NAME, REACHED, SHOWN, CODE) == []
    ledger = open_ledger()
    with ledger.reading() as reading:
        again = reading.job(job.file.id)
    assert not people_in(again) and "restored" in again.forgotten[-1].record.why
    assert forget_again(ledger, [erasure_list(ledger.engine.url)], DAY) == 0
    ledger.close()


@pytest.mark.parametrize("moved", ["list beside the backup", "list in the record itself"])
def test_on_another_machine_too(tmp_path, shop, monkeypatch, moved):
    """The list goes to the folder of daily backups; a restored record brings its own erasures along."""
    backups, away = tmp_path / "backups", tmp_path / "away"
    backups.mkdir()
    monkeypatch.setenv("TRIAGE_RECORD", str(tmp_path / "shop" / "record.sqlite"))
    monkeypatch.delenv("TRIAGE_BELIEFS", raising=False)
    ledger = open_ledger()
    keeper = RecordKeeper(
        ledger, replace(shop, settings=replace(shop.settings, backup_folder=str(backups))), by="ada"
    )
    job = noted(keeper)
    old = back_up_shop((backups if moved.startswith("list beside") else tmp_path) / "old.zip").file
    forget(job)
    new = back_up_shop(tmp_path / "new.zip").file
    ledger.close()
    assert [path.name for path in backups.glob("*.jsonl")] == ["record-forgotten.jsonl"]
    there = str(away / "record.sqlite")
    if moved.startswith("list in"):
        restore_shop(new, there)
    assert restore_shop(old, there, force=True).erased_again == 1
    for aside in away.glob("*before*"):
        aside.unlink()
    assert places_of(away, NAME, NAME.upper(), REACHED, SHOWN, SERIAL, CODE) == []


def test_a_folder_of_backups_that_is_away_gets_the_list_with_its_next_copy(tmp_path, shop, monkeypatch):
    monkeypatch.setenv("TRIAGE_RECORD", str(tmp_path / "record.sqlite"))
    ledger = open_ledger()
    folder = tmp_path / "stick"
    kept = replace(shop, settings=replace(shop.settings, backup_folder=str(folder)))
    forget(declined(RecordKeeper(ledger, kept, by="ada")))
    assert not folder.exists()
    folder.mkdir()
    daily_copy(str(folder), DAY)
    ledger.close()
    own = erasure_list(ledger.engine.url).read_text()
    assert (folder / "record-forgotten.jsonl").read_text() == own and own.count("\n") == 1
    daily_copy(str(folder), DAY + timedelta(days=1))
    assert (folder / "record-forgotten.jsonl").read_text() == own


def test_what_was_written_after_it_stays(keeper):
    job = declined(keeper)
    forget(job)
    job.do(correct, job.file.intake.id, "she came again", person="Wilhelmina Q.")
    assert forget_again(keeper.ledger, [erasure_list(keeper.ledger.engine.url)], DAY) == 0
    with keeper.ledger.reading() as reading:
        assert reading.job(job.file.id).intake.record.person == "Wilhelmina Q."


def test_what_is_kept_longer_than_the_settings_say_is_due(keeper):
    job = declined(keeper)
    assert people_due(keeper) == ()

    def after(days):
        shop = replace(keeper.shop, settings=replace(keeper.shop.settings, keep_people_days=30))
        return replace(keeper, shop=replace(shop, today=DAY + timedelta(days=days)))

    assert people_due(after(29)) == ()
    assert [file.id for file in people_due(after(30))] == [job.file.id]
    forget(job)
    assert people_due(after(30)) == ()


def test_where_the_list_cannot_be_written_nothing_is_erased(keeper, monkeypatch):
    job = declined(keeper)

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("triage.workflows.jobs.erasure_list.os.fsync", full)
    with pytest.raises(LedgerError, match="nothing was erased"):
        forget(job)
    with keeper.ledger.reading() as reading:
        assert reading.job(job.file.id) == job.file


def test_a_list_cut_short_is_read_as_far_as_it_goes(keeper, tmp_path):
    job = declined(keeper)
    forget(job)
    listed = erasure_list(keeper.ledger.engine.url)
    listed.write_text(listed.read_text() + '{"job": 3, "ope')
    assert forget_again(keeper.ledger, [listed], DAY) == 0


def test_an_old_record_keeps_its_people_apart_once_it_is_opened(tmp_path):
    from pathlib import Path

    from triage.ledger.opening import APPLICATION_ID

    old = Path(__file__).parents[2] / "upgrade" / "record-2026-11.sql"
    with sqlite3.connect(tmp_path / "record.sqlite") as file:
        file.executescript(old.read_text(encoding="utf-8"))
        file.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    file.close()
    ledger = open_ledger(tmp_path / "record.sqlite")
    with ledger.reading() as reading:
        people = [job.intake.record.person for job in reading.jobs()]
        rows = reading.connection.exec_driver_sql("SELECT person, contact FROM intake").all()
        with pytest.raises(Exception, match="never changed"):
            reading.connection.exec_driver_sql("UPDATE intake SET name = 'x'")
    assert "Bo Marsh" in people and {tuple(row) for row in rows} == {("", "")}
    ledger.close()
