"""An owner's job from its quote to its collection and back, on SQLite and PostgreSQL."""

from datetime import date

import pytest

from tests.workflows.at_the_desk import CLEAR, DAY, PORT, AtTheDesk
from triage.domain.job.ending import disclosure_text
from triage.domain.job.records import (
    Attempt,
    CheckMade,
    Comeback,
    FoundDamage,
    HandOver,
    Intake,
    PartOrdered,
    Payment,
)
from triage.workflows.jobs.comeback import come_back, settle_comeback
from triage.workflows.jobs.ending import dispose, give_back, leave_uncollected
from triage.workflows.jobs.intake import consider, resolve_stop, take
from triage.workflows.jobs.parts import order_part
from triage.workflows.jobs.quotes import give_quote, pay, take_answer
from triage.workflows.jobs.record_keeper import RecordKeeper, move
from triage.workflows.jobs.work import attempt, look_inside, make_check


def test_an_owner_s_unit_goes_from_quote_to_collection_and_back_again(keeper):
    told = PORT.format(data="true", lock="locked-to-owner", proof="false")
    intake = Intake(DAY, told, person="Bo Marsh", battery_looked_at=True)
    job = AtTheDesk(keeper, consider(keeper, intake, "walk-in", passcode="zigzag-left"))
    assert [stop.record.about for stop in job.file.open_stops] == ["ownership", "data"]
    assert job.file.has_passcode
    job.do(give_quote, DAY, 9000, 11000, ["port-pins-damaged"], letter="letter 1")
    assert job.words().waits_for == "waits for the owner's answer to quote 1, due 9 Dec"
    refused = job.refused(take, DAY)
    assert len(refused) == 2 and "signature" in refused[0] and "neither accepted a quote" in refused[1]
    job.do(resolve_stop, job.file.open_stops[0].id, "identity card seen, form 12 signed")
    assert job.refused(take_answer, DAY, True, "Bo Marsh", "") == (
        "enter how they answered; no reply is not a yes",
    )
    job.do(take_answer, DAY, True, "Bo Marsh", "in person, signed")
    answer = job.file.answers[0].record
    assert (answer.who, answer.on, answer.how, answer.ceiling_minor) == (
        "Bo Marsh",
        DAY,
        "in person, signed",
        11000,
    )
    job.do(take, DAY)
    job.do(move, "start", DAY)
    job.do(look_inside, ("joint-cracked",))
    assert job.file.findings[-1].record == FoundDamage("joint-cracked", known_at="opening")

    # Found on opening, not covered: asked, and dearer than the yes.
    heat = Attempt("joint-cracked", "fixed", "reball-chip")
    assert [why[:20] for why in job.refused(attempt, heat)] == [
        "stopped: data are wa",
        "the accepted quote d",
    ]
    job.do(give_quote, DAY, 16000, 18000, ["port-pins-damaged", "joint-cracked"])
    job.do(move, "wait", DAY, "owner-answer")
    assert job.words(date(2026, 12, 10)).next_act == "no answer by 9 Dec: reassemble and return it"
    job.do(take_answer, date(2026, 12, 2), True, "Bo Marsh", "by telephone, 0-555-0100", 17000)
    job.do(move, "resume", date(2026, 12, 2))
    job.do(resolve_stop, job.file.open_stops[0].id, "copied, the owner looked")
    job.do(attempt, heat)

    port = PartOrdered("charge-port", "the usual source", 900)
    assert "take a deposit of €9.00 first" in job.refused(order_part, port)[0]
    job.do(pay, Payment("deposit", 900, DAY))
    job.do(order_part, port)
    job.do(attempt, Attempt("port-pins-damaged", "not-fixed", "resolder-port"))
    job.do(attempt, Attempt("port-pins-damaged", "fixed", "swap-charge-board"))
    job.check("solder-look", "residue-look", "soak-and-restarts", "microphones", "cellular-signal",
              "fast-charge-step", "hardware-complete", "cell-look-again", "seal-look")  # fmt: skip
    job.check("surface-temperature", reading=31.5, unit="°C")
    job.check("attended-charge", reading=1.1, unit="A")
    job.check("sleep-current", result="cannot")
    job.do(move, "verify", DAY)
    job.do(move, "make-ready", DAY)
    assert job.refused(give_back, HandOver(DAY, "working", person="Bo Marsh"), True) == (
        "not fully working, not tested: sleep current at the battery connector",
    )
    told = disclosure_text(job.file, keeper.catalogue)
    assert told == "Not tested: sleep current at the battery connector."
    job.do(give_back, HandOver(DAY, "downgraded", told, 90, "Bo Marsh"), True, 15100)
    assert job.file.state == "returned-fixed" and not job.file.has_passcode
    with keeper.ledger.reading() as reading:
        assert reading.passcode(job.file.id) == ""
        assert not any("zigzag-left" in str(line) for line in reading.audit(job.file.id))
    job.do(come_back, Comeback(date(2027, 1, 5), "no-fault-found"))
    job.do(settle_comeback, date(2027, 1, 6), "declined", "send-back")
    assert job.file.state == "returned-fixed"
    job.do(come_back, Comeback(date(2027, 1, 20), "same-fault"))
    assert "enter a refund of 0 or more" in job.refused(settle_comeback, DAY, "refund", "send-back", -1)
    job.do(settle_comeback, date(2027, 1, 21), "refund", "send-back", 15100)
    assert job.file.payments[-1].record == Payment("refund", -15100, date(2027, 1, 21))


@pytest.mark.parametrize(
    ("change", "route", "intake", "stops"),
    [
        (("clear", "clear"), "bought", {}, []),
        (("clear", "locked-to-another"), "bought", {}, ["ownership"]),
        (("clear", "locked-to-owner"), "bought", {}, ["ownership"]),
        (("clear", "locked-to-owner"), "walk-in", {}, []),
        (('"clear"\nidentity = "agrees"\n', '"cannot-tell"\n'), "bought", {}, ["ownership"] * 2),
        (("proof_recorded = true", ""), "walk-in", {}, ["ownership"]),
        (('tier = "middle"', 'tier = "middle"\nbattery = "hazard"'), "bought", {}, ["battery"]),
        (("data_wanted = false", "data_wanted = true"), "walk-in", {}, ["data"]),
        (("data_wanted = false", "data_wanted = true"), "walk-in", {"backed_up": "yes"}, []),
    ],
)  # fmt: skip
def test_an_intake_raises_its_own_stops(shop, sqlite_url, change, route, intake, stops):
    from triage.ledger.opening import open_ledger

    keeper = RecordKeeper(open_ledger(sqlite_url), shop, "ada")
    file = consider(keeper, Intake(DAY, CLEAR.replace(*change), **intake), route)
    keeper.ledger.close()
    assert [stop.record.about for stop in file.open_stops] == stops


def test_a_unit_nobody_fetches_is_disposed_of_after_notice(keeper):
    intake = Intake(DAY, CLEAR, battery_looked_at=True)
    job = AtTheDesk(keeper, consider(keeper, intake, "walk-in"))
    job.do(pay, Payment("diagnostic-fee", 2000, DAY))
    job.do(take, DAY)
    job.do(make_check, CheckMade("cell-look", False, minutes=5))
    assert job.refused(leave_uncollected, DAY, "") == (
        "enter how and when the owner was asked to collect it",
    )
    job.do(leave_uncollected, DAY, "letters of 1 and 15 October")
    assert job.words().waits_for == "waits for its owner to collect it"
    assert "legal notice" in job.refused(dispose, DAY)[0]
    job.do(dispose, DAY, notice="recorded letter of 1 September")
    assert job.file.moves[-1].record.note == "recorded letter of 1 September"
