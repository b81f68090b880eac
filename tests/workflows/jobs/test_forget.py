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
from triage.domain.job.records import Intake, PersonForgotten
from triage.errors import LedgerError
from triage.ledger import backup
from triage.ledger.drafts import StoredDraft, new_token, save_draft
from triage.ledger.opening import open_ledger
from triage.workflows.backup.back_up import back_up_shop
from triage.workflows.backup.restore import restore_shop
from triage.workflows.jobs.forget import erasure_list, forget_again, forget_person, people_due
from triage.workflows.jobs.intake import consider, decline, keep_passcode, look_at_battery
from triage.workflows.jobs.record_keeper import RecordKeeper, correct

NAME, REACHED, SHOWN, CODE = "Wilhelmina Quarrel", "0-555-0177", "card 88-QX-1", "7391-zebra"
TOLD = Intake(DAY, CLEAR, person=NAME, contact=REACHED, identity_shown=SHOWN)


def declined(keeper, name=NAME):
    """An owner's device that came, whose owner was named, misspelt once, and that went again."""
    job = AtTheDesk(keeper, consider(keeper, replace(TOLD, person=name[:-1]), "walk-in"))
    save_draft(keeper.ledger, new_token(), StoredDraft(f"# {name}", job=job.file.id))
    job.do(keep_passcode, CODE)
    job.do(correct, job.file.intake.id, "misspelt", person=name)
    job.do(look_at_battery)
    job.do(decline, DAY)
    return job


def forget(job, on=DAY, why="asked for"):
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
    assert (told.person, told.contact, told.identity_shown) == ("", "", "") and not job.file.has_passcode
    assert replace(told, person=NAME, contact=REACHED, identity_shown=SHOWN) == before.intake.record
    assert (job.file.findings, job.file.moves) == (before.findings, before.moves)
    assert [kept.record for kept in job.file.forgotten] == [PersonForgotten(DAY, "asked for")]
    assert "backups made before" in done.not_reached[0]
    with keeper.ledger.reading() as reading:
        assert reading.job(other.file.id) == other.file  # nobody else is
        said = repr([(line.was, line.now) for line in reading.audit(job.file.id)])
    assert NAME not in said and NAME[:-1] not in said and "PersonForgotten" in said


def test_no_file_of_the_shop_holds_it_any_more(tmp_path, shop):
    ledger = open_ledger(tmp_path / "record.sqlite")
    keeper = RecordKeeper(ledger, shop, by="ada")
    job = declined(keeper)
    assert places_of(tmp_path, NAME, REACHED, SHOWN, CODE)
    forget(job)
    assert places_of(tmp_path, NAME, NAME[:-1], REACHED, SHOWN, CODE) == []
    ledger.close()
    assert places_of(tmp_path, NAME, NAME[:-1], REACHED, SHOWN, CODE) == []


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
    assert "needs to know whose the device is" in job.refused(forget_person, DAY, "asked for")[0]
    gone = declined(keeper)
    assert gone.refused(forget_person, DAY, " ") == (
        "say why: asked for, or the time that it is kept is over",
    )
    forget(gone)
    assert gone.refused(forget_person, DAY, "again") == ("the record says of nobody who they are",)


@pytest.mark.parametrize("whole", [True, False])
def test_an_older_copy_that_is_put_back_is_erased_before_it_counts(tmp_path, shop, monkeypatch, whole):
    home = tmp_path / "shop"
    monkeypatch.setenv("TRIAGE_LEDGER", str(home / "record.sqlite"))
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
        said = CliRunner().invoke(cli, ["ledger", "restore", str(tmp_path / "record-before.sqlite")])
        assert said.exit_code == 0 and "Erased again" in said.output
    assert places_of(home, NAME, REACHED, SHOWN, CODE) == []
    ledger = open_ledger()
    with ledger.reading() as reading:
        again = reading.job(job.file.id)
    assert not people_in(again) and "put back" in again.forgotten[-1].record.why
    assert forget_again(ledger, erasure_list(ledger.engine.url), DAY) == 0
    ledger.close()


def test_what_was_written_after_it_stays(keeper):
    job = declined(keeper)
    forget(job)
    job.do(correct, job.file.intake.id, "she came again", person="Wilhelmina Q.")
    assert forget_again(keeper.ledger, erasure_list(keeper.ledger.engine.url), DAY) == 0
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

    monkeypatch.setattr("triage.workflows.jobs.forget.os.fsync", full)
    with pytest.raises(LedgerError, match="nothing was erased"):
        forget(job)
    with keeper.ledger.reading() as reading:
        assert reading.job(job.file.id) == job.file


def test_a_list_cut_short_is_read_as_far_as_it_goes(keeper, tmp_path):
    job = declined(keeper)
    forget(job)
    listed = erasure_list(keeper.ledger.engine.url)
    listed.write_text(listed.read_text() + '{"job": 3, "ope')
    assert forget_again(keeper.ledger, listed, DAY) == 0


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
