"""A data job from its quote to the erasure of our copy, on SQLite and PostgreSQL."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from tests.workflows.at_the_desk import DAY, AtTheDesk
from triage.domain.data_job import CopyErased, DataAsked, DataEnded, DataFacts
from triage.domain.history import History
from triage.domain.job.ending import disclosure_text
from triage.domain.job.final_check import required_lines
from triage.domain.job.records import Attempt, HandOver, Intake
from triage.domain.shop.data_record import DataRecord
from triage.ledger.history.history_rows import history_of, rows_of
from triage.review.money.realised_margin import realised_margins
from triage.workflows.jobs.data_job import end_data_job, erase_copy, give_data_quote
from triage.workflows.jobs.ending import give_back
from triage.workflows.jobs.forget import forget_person
from triage.workflows.jobs.intake import consider, take
from triage.workflows.jobs.quotes import give_quote, take_answer
from triage.workflows.jobs.record_keeper import correct, move
from triage.workflows.jobs.shelf import supply_of
from triage.workflows.jobs.work import attempt, check_line

HANDSET = """
[device]
name = "handset of the late Bo Marsh"
tier = "middle"
battery = "sound"
data_wanted = true

[ownership]
lock = "locked-to-owner"
identity = "agrees"
proof_recorded = true

[[finding]]
kind = "display-panel-dead"

[[finding]]
kind = "joint-cracked"
"""
FACTS = DataFacts(
    backup="no", authority="estate", proof="certificate of inheritance", matters="photographs\nletters",
    chips="yes", code="not-known", touch="donor",
)  # fmt: skip
LINES = ("data-opened", "data-on-owner-storage", "data-device-safe", "data-own-copy")


@pytest.fixture
def job(keeper):
    intake = Intake(DAY, HANDSET, person="Ida Marsh", battery_looked_at=True)
    return AtTheDesk(keeper, consider(keeper, intake, "walk-in"))


def asked(job, facts=FACTS, fee_minor=4000):
    job.do(give_data_quote, DAY, 12000, ["joint-cracked"], facts, fee_minor, 6000, (0.5, 0.2), "letter 1")


def in_work(job, **more):
    asked(job, **more)
    job.do(take_answer, DAY, True, "Ida Marsh", "in person, signed")
    job.do(take, DAY)
    job.do(move, "start", DAY)


def test_a_data_job_goes_from_its_quote_to_the_erasure_of_our_copy(job):
    in_work(job)
    kept = job.file.data_asked[0].record
    assert kept == DataAsked(**vars(FACTS), quote=job.file.quotes[0].id, on=DAY, fee_minor=4000,
                             part_minor=6000, all_chance=0.5, part_chance=0.2)  # fmt: skip
    assert job.file.data_job == kept and job.words().next_act == "save the data, then record what was saved"
    # Heat waits for the data in a repair; here it is how they are reached, and the owner knows.
    assert job.file.open_stops[0].record.about == "data"
    job.do(attempt, Attempt("joint-cracked", "fixed", "reball-chip", minutes=90.0, parts_minor=300))
    assert "was saved" in job.refused(move, "verify", DAY)[0]
    ended = DataEnded(DAY, "part", minutes=45.0, saved="photographs", erase_by=DAY + timedelta(days=14))
    job.do(end_data_job, ended)
    assert job.file.data_ended[0].record == ended and job.file.open_stops == ()
    assert [need.line.slug for need in required_lines(job.file, job.keeper.catalogue)] == list(LINES)
    for line in LINES:
        job.do(check_line, line, "pass", DAY)
    job.do(move, "verify", DAY)
    job.do(move, "make-ready", DAY)
    said = disclosure_text(job.file, job.keeper.catalogue)
    assert "no water resistance is stated" in said and "Not repaired" in said
    job.do(give_back, HandOver(DAY, "unfixed", said, person="Ida Marsh"), False, 6000)
    assert job.file.state == "returned-unfixed"
    assert job.words().next_act == "erase our copy of the data by 9 Dec"
    assert job.refused(erase_copy, CopyErased(DAY, " ")) == (
        "enter how the copy was erased, and what shows it",
    )
    job.do(erase_copy, CopyErased(date(2026, 12, 1), "drive wiped, log 12"))
    assert job.words().next_act == ""
    assert job.refused(erase_copy, CopyErased(DAY, "again")) == ("there is no copy of ours to erase",)


def test_its_outcome_feeds_the_chance_of_the_next(job):
    in_work(job)
    job.do(end_data_job, DataEnded(DAY, "all", minutes=40.0))
    supply = supply_of(job.keeper.ledger, job.keeper.catalogue)
    # Only the code was an open question.
    assert supply.data == DataRecord((1, 0, 0), held=(0, 0, 1))
    job.do(correct, job.file.data_ended[0].id, "the letters were empty", outcome="part")
    assert supply_of(job.keeper.ledger, job.keeper.catalogue).data.outcomes == (0, 1, 0)


def test_the_money_review_counts_it_with_its_minutes(job):
    in_work(job)
    job.do(attempt, Attempt("joint-cracked", "fixed", "reball-chip", minutes=90.0, parts_minor=300))
    job.do(end_data_job, DataEnded(DAY, "all", minutes=30.0))
    for line in LINES:
        job.do(check_line, line, "pass", DAY)
    job.do(move, "verify", DAY)
    job.do(move, "make-ready", DAY)
    job.do(give_back, HandOver(DAY, "unfixed", "Not repaired.", person="Ida Marsh"), False, 12000)
    cells = rows_of(job.file)[0]
    assert (cells["data_outcome"], cells["data_minutes"], cells["sold"]) == ("all", "30", "120.00")
    history: History = history_of([job.file], job.keeper.catalogue)
    told = realised_margins(history, job.keeper.catalogue, job.keeper.shop.settings).money.iloc[0]
    # Demo rates: 30 an hour for 90 + 30 minutes; of 120: 2 % payment fee, a sixth tax; consumables 4.
    assert (told["minutes"], told["labour"]) == (120.0, pytest.approx(60.0))
    assert told["margin"] == pytest.approx(120 - 3 - 60 - (2.4 + 4) - 20)


def test_a_repair_quote_that_is_accepted_later_makes_it_a_repair(job):
    asked(job)
    job.do(give_quote, DAY, 9000, 9000, ["display-panel-dead"])
    assert job.file.data_job is None
    job.do(take_answer, DAY, True, "Ida Marsh", "in person", quote=job.file.quotes[1].id)
    job.do(take, DAY)
    job.do(move, "start", DAY)
    assert "has not accepted a quote for saving data" in job.refused(end_data_job, DataEnded(DAY, "all"))[0]
    assert not {n.line.slug for n in required_lines(job.file, job.keeper.catalogue)} & set(LINES)


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"irreplaceable": True}, "advise a licensed data recovery practice first"),
        ({"referral": "accepted"}, "decline the job"),
        ({"proof": " "}, "local law decides"),
        ({"code": "no"}, "cannot be read here"),
    ],
)
def test_what_must_be_settled_before_a_quote(job, changed, words):
    facts = replace(FACTS, **changed)
    refused = job.refused(give_data_quote, DAY, 12000, [], facts, 0, 6000, (0.5, 0.2))
    assert len(refused) == 1 and words in refused[0]


@pytest.mark.parametrize(
    ("ended", "words"),
    [
        (DataEnded(DAY, "none"), "choose why no data were saved"),
        (DataEnded(DAY, "none", "code", erase_by=DAY), "no copy to erase"),
        (DataEnded(DAY, "all", "code"), "leave the reason"),
        (DataEnded(DAY, "all", erase_by=DAY + timedelta(days=15)), "by 09 Dec 2026 at the latest"),
        (DataEnded(DAY, "all", minutes=-1.0), "minutes"),
    ],
)
def test_an_outcome_must_make_sense(job, ended, words):
    in_work(job)
    (refusal,) = job.refused(end_data_job, ended)
    assert words in refusal


def test_an_accepted_data_job_does_not_leave_without_an_outcome(job):
    in_work(job)
    over = HandOver(DAY, "unfixed", "Not repaired.", person="Ida Marsh")
    assert "record first what was saved" in job.refused(give_back, over, False)[0]
    job.do(end_data_job, DataEnded(DAY, "none", "code"))
    job.do(give_back, over, False, 4000)
    assert job.file.state == "returned-unfixed"


def test_what_it_says_of_people_is_erased_with_them(job):
    in_work(job)
    job.do(end_data_job, DataEnded(DAY, "none", "code", saved="not even the letters to Ida"))
    job.do(give_back, HandOver(DAY, "unfixed", "Not repaired.", person="Ida Marsh"), False)
    forget_person(job.keeper, job.file.id, job.file.version, DAY, "on request")
    with job.keeper.ledger.reading() as reading:
        file = reading.job(job.file.id)
    told = file.data_asked[0].record
    assert (told.proof, told.matters, file.data_ended[0].record.saved) == ("", "", "")
    assert told.authority == "estate" and file.data_ended[0].record.outcome == "none"


def test_saved_data_are_not_handed_over_before_their_final_check(job):
    in_work(job)
    job.do(end_data_job, DataEnded(DAY, "all"))
    over = HandOver(DAY, "unfixed", "Not repaired.", person="Ida Marsh")
    assert len(job.refused(give_back, over, False)) == len(LINES)
    for line in LINES:
        job.do(check_line, line, "pass", DAY)
    job.do(give_back, over, False)
