"""A decision at the counter, kept whole or not at all; data wanted by an afterthought."""

from dataclasses import replace
from datetime import date
from threading import Barrier, Thread

import pytest

from triage.domain.job.records import Decision, Intake, Moved, Payment
from triage.errors import DraftTakenError, LedgerConflictError
from triage.ledger.drafts import StoredDraft, new_token, read_draft, save_draft
from triage.ledger.record import Writing
from triage.workflows.answers.assess import assess
from triage.workflows.jobs.intake import consider, consider_and_decide, described, resolve_stop
from triage.workflows.jobs.record_keeper import RecordKeeper, correct
from triage.workflows.shop.shop import open_shop

DAY = date(2026, 11, 25)
PHONE = """
[device]
name = "black phone from the ferry"
tier = "middle"

[ownership]
lock = "clear"
identity = "agrees"
proof_recorded = true

[[finding]]
kind = "port-pins-damaged"
severity = 2
"""
LOOKED = Intake(DAY, PHONE, battery_looked_at=True)


@pytest.fixture(scope="module")
def shop():
    return open_shop(today=DAY)


@pytest.fixture(scope="module")
def answer(shop):
    return assess(described(PHONE, shop), shop, ask=40.0)


@pytest.fixture
def keeper(ledger, shop):
    return RecordKeeper(ledger, shop, by="ada")


def kept(keeper):
    with keeper.ledger.reading() as reading:
        return reading.jobs()


@pytest.mark.parametrize(
    ("route", "then", "price", "state"),
    [
        ("bought", "take", 4000, "taken"),
        ("bought", "decline", 4000, "declined"),
        ("walk-in", "decline", None, "declined"),
        ("walk-in", "ask-owner", None, "considered"),
    ],
)
def test_a_decision_is_carried_out_with_the_answer_behind_it(keeper, answer, route, then, price, state):
    file, refused = consider_and_decide(keeper, LOOKED, route, answer, then, price)
    assert refused == () and kept(keeper) == (file,)
    assert (file.state, file.decisions[0].record.verdict) == (state, answer.verdict)
    assert [row.record.amount_minor for row in file.payments] == ([-4000] if state == "taken" else [])


def test_a_refused_taking_leaves_the_job_considered_with_its_decision(keeper, answer):
    file, refused = consider_and_decide(keeper, Intake(DAY, PHONE), "bought", answer, "take", None)
    assert refused == (
        "inspect the battery first, before anything else",
        "enter the price paid, 0 or more",
    )
    assert kept(keeper) == (file,) and file.state == "considered" and len(file.decisions) == 1
    assert file.payments == file.moves == ()


@pytest.mark.parametrize("fault_at", [Decision, Payment, Moved])
def test_a_fault_anywhere_within_a_decision_writes_nothing(keeper, answer, monkeypatch, fault_at):
    append = Writing.append

    def failing(self, job, record, *more, **named):
        if isinstance(record, fault_at):
            self.flush()  # what came before has reached the database
            raise OSError("power cut")
        return append(self, job, record, *more, **named)

    monkeypatch.setattr(Writing, "append", failing)
    with pytest.raises(OSError, match="power cut"):
        consider_and_decide(keeper, LOOKED, "bought", answer, "take", 4000)
    assert kept(keeper) == ()


def test_a_draft_becomes_one_job_however_often_and_from_wherever_it_is_asked(keeper, answer):
    token, draft = new_token(), StoredDraft(PHONE, 40.0, False, "EUR")
    save_draft(keeper.ledger, token, draft)
    barrier, taken, refused = Barrier(6), [], []

    def press():
        barrier.wait()
        try:
            file, _ = consider_and_decide(keeper, LOOKED, "bought", answer, "take", 4000, (token, draft))
            taken.append(file.id)
        except DraftTakenError as told:
            refused.append(told.job)

    threads = [Thread(target=press) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    (file,) = kept(keeper)
    assert taken == [file.id] and refused == [file.id] * 5
    assert [row.record.amount_minor for row in file.payments] == [-4000]
    # What another tab still keeps of it changes nothing.
    assert save_draft(keeper.ledger, token, StoredDraft("", None)) == file.id
    assert read_draft(keeper.ledger, token) == replace(draft, job=file.id)


def test_a_draft_that_was_described_otherwise_in_another_tab_is_not_taken(keeper, answer):
    token, seen = new_token(), StoredDraft(PHONE, 40.0, False, "EUR")
    for now in (replace(seen, toml=PHONE + "\n"), replace(seen, ask=41.0), replace(seen, walk_in=True)):
        save_draft(keeper.ledger, token, now)
        with pytest.raises(LedgerConflictError, match="changed in the meantime"):
            consider_and_decide(keeper, LOOKED, "bought", answer, "take", 4000, (token, seen))
        assert kept(keeper) == () and read_draft(keeper.ledger, token) == now


def test_a_draft_that_the_record_never_held_becomes_one_job_too(keeper, answer):
    claim = new_token(), StoredDraft(PHONE, None, False, "EUR")
    consider_and_decide(keeper, LOOKED, "bought", answer, "take", 4000, claim)
    with pytest.raises(DraftTakenError):
        consider_and_decide(keeper, LOOKED, "bought", answer, "take", 4000, claim)
    assert len(kept(keeper)) == 1


def test_data_wanted_by_a_correction_stop_the_job_once(keeper):
    file = consider(keeper, LOOKED, "walk-in")

    def corrected(**changed):
        return correct(keeper, file.id, file.version, file.intake.id, "the owner rang", **changed)

    file = corrected(data="wanted", backed_up="yes")
    assert file.stops == ()
    file = corrected(backed_up="no")
    assert [stop.record.about for stop in file.open_stops] == ["data"]
    file = corrected(backed_up="not-known")
    assert len(file.stops) == 1
    file = resolve_stop(keeper, file.id, file.version, file.stops[0].id, "saved to the owner's drive")
    file = corrected(person="the owner's sister")
    assert file.open_stops == ()
