"""Bought jobs from the counter to the end and back, and what any job refuses; on SQLite and PostgreSQL."""

import json
from dataclasses import replace
from datetime import date, timedelta

import pytest

from tests.workflows.at_the_desk import CLEAR, DAY, PORT_LINES, SOLD_LINES, AtTheDesk, bought
from triage.domain.job.records import (
    Attempt,
    CheckMade,
    Comeback,
    FoundDamage,
    HandOver,
    Intake,
    PartFate,
    PartOrdered,
    Place,
)
from triage.domain.job.shelf_rules import on_hand
from triage.domain.units.unit import Finding, Unit
from triage.errors import JobRuleError, LedgerConflictError, UnitFileError
from triage.ledger.history.history_rows import rows_of
from triage.workflows.answers.assess import assess
from triage.workflows.jobs.comeback import come_back, settle_comeback
from triage.workflows.jobs.ending import dispose, sell
from triage.workflows.jobs.intake import (
    consider,
    decide,
    decline,
    found_damage,
    keep_passcode,
    later_fate,
    look_at_battery,
    resolve_stop,
    take,
)
from triage.workflows.jobs.parts import order_part, part_fate, reserve_part
from triage.workflows.jobs.record_keeper import add_entry, correct, move, withdraw
from triage.workflows.jobs.stripping import TakenPart, strip
from triage.workflows.jobs.work import attempt


def test_a_bought_unit_is_mended_fails_its_check_is_mended_again_sold_and_comes_back(keeper):
    job = AtTheDesk(keeper, consider(keeper, Intake(DAY, CLEAR, promised_for=date(2026, 12, 1)), "bought"))
    assert (job.file.label, job.file.state, job.words().next_act) == (
        "J-0001",
        "considered",
        "inspect the battery",
    )
    assert job.file.intake.record.tier == "middle" and job.file.checks[0].record == CheckMade(
        "six-face-look", True
    )
    assert job.refused(take, DAY, 4000) == ("inspect the battery first, before anything else",)
    job.do(look_at_battery)
    assert job.words().next_act == "decide: accept or decline it"
    assert job.refused(take, DAY) == ("enter the price paid, 0 or more",)
    job.do(take, DAY, 4000)
    job.do(add_entry, Place("shelf 2"))
    job.do(order_part, PartOrdered("charge-port", "the usual source", 900, 180, due=date(2026, 12, 3)))
    job.do(move, "wait", DAY, "part")
    assert job.words().waits_for == "waits for the charge port from the usual source, due 3 Dec"
    assert job.words(date(2026, 12, 4)).days_late == 3
    port = job.file.orders[0].id
    for fate in ("arrived", "dead-on-arrival", "claimed"):
        job.do(part_fate, PartFate(port, DAY, fate))
    job.do(part_fate, PartFate(port, DAY, "refunded", 1080))
    assert "a part, but no part is on order" in job.words().waits_for
    job.do(order_part, PartOrdered("charge-port", "the usual source", 900, 180))
    job.do(part_fate, PartFate(job.file.orders[1].id, DAY, "arrived"))
    job.do(move, "resume", DAY)
    assert job.words().next_act == "repair: charge port pins bent, burnt or corroded"
    job.do(part_fate, PartFate(job.file.orders[1].id, DAY, "fitted"))
    job.do(attempt, Attempt("port-pins-damaged", "fixed", "resolder-port", minutes=35, parts_minor=1080))

    job.check(*PORT_LINES, *SOLD_LINES)
    assert job.words().next_act == "final check: 2 lines to do"
    job.check("surface-temperature", reading=31.5, unit="°C")
    job.check("attended-charge", reading=0.3, unit="A")  # tapped as a pass
    assert job.file.lines[-1].record.result == "fail"
    assert job.words().next_act.startswith("redo, final check failed: ")
    assert job.refused(move, "verify", DAY) == (
        "failed: attended charge, 15 min at 5 V; repair it, or enter the reason to go on",
    )
    job.do(attempt, Attempt("port-pins-damaged", "fixed", "resolder-port", minutes=20))
    assert len(job.refused(move, "verify", DAY)) == 7  # its four lines, and what an opened unit needs
    job.check(*PORT_LINES)
    job.check("surface-temperature", reading=31.5, unit="°C")
    job.check("attended-charge", reading=1.4, unit="A")
    assert job.words().next_act == "complete the final check"
    job.do(move, "verify", DAY)
    job.do(move, "make-ready", DAY)
    assert job.words().next_act == "sell it"

    # A fault seen at the last moment opens it again.
    job.check("seal-look", result="fail")
    assert job.file.state == "in-work" and "failed: seal" in job.file.moves[-1].record.note
    assert "not tested yet: attended charge, 15 min at 5 V" in job.refused(move, "verify", DAY)
    job.check("seal-look", "hardware-complete", "cell-look-again", "fast-charge-step")
    job.check("attended-charge", reading=1.4, unit="A")
    job.do(move, "verify", DAY)
    job.do(move, "make-ready", DAY)
    sale = HandOver(DAY, "working", warranty_days=90, person="Cy Vane", wiped="reset, set-up screen shown")
    job.do(sell, sale, 15000)
    assert job.file.state == "sold" and job.words().next_act == "" == job.words().waits_for
    assert [kept.record.amount_minor for kept in job.file.payments] == [-4000, 15000]

    later = date(2027, 1, 10)
    assert job.refused(come_back, Comeback(later, "same-fault", "declined"))
    job.do(come_back, Comeback(later, "same-fault"))
    assert job.words().next_act == "choose a remedy"
    assert "choose the remedy first" in job.refused(move, "rework", later)[0]
    first = tuple(kept.record for kept in job.file.attempts)
    job.do(settle_comeback, later, "rework", "rework", cost_minor=800)
    assert job.refused(correct, job.file.attempts[0].id, "it came back", outcome="not-fixed")
    job.do(attempt, Attempt("port-pins-damaged", "not-fixed", "resolder-port"))
    assert [kept.record.round for kept in job.file.attempts] == [0, 0, 1]
    assert tuple(kept.record for kept in job.file.attempts[:2]) == first
    assert job.file.comebacks[0].record == Comeback(later, "same-fault", "rework", 800)


def test_a_repair_whose_final_check_stays_failed_is_not_learned_as_fixed(keeper):
    job = AtTheDesk(keeper, consider(keeper, Intake(DAY, CLEAR), "bought"))
    job.do(look_at_battery)
    job.do(take, DAY, 4000)
    job.do(move, "start", DAY)
    job.do(attempt, Attempt("port-pins-damaged", "fixed", "resolder-port", minutes=35))
    job.check(*PORT_LINES, *SOLD_LINES)
    job.check("surface-temperature", reading=31.5, unit="°C")
    job.check("attended-charge", reading=0.3, unit="A")
    job.do(move, "verify", DAY, note="sold as it is: charges slowly")
    (kept,) = job.file.attempts
    assert (kept.record.outcome, kept.record.minutes) == ("not-fixed", 35)
    assert kept.why == "failed its final check: attended charge, 15 min at 5 V"
    assert [row["outcome"] for row in rows_of(job.file)] == ["not-fixed"]
    job.do(move, "make-ready", DAY)
    sale = HandOver(DAY, "working", person="Cy Vane", wiped="reset, set-up screen shown")
    assert job.refused(sell, sale, 9000), "never as fully working"


def test_a_change_on_an_old_version_is_refused(keeper):
    job = bought(keeper)
    old = job.file.version
    job.do(move, "start", DAY)
    with pytest.raises(LedgerConflictError):
        move(keeper, job.file.id, old, "wait", DAY, "tool")
    with keeper.ledger.reading() as reading:
        assert reading.job(job.file.id) == job.file


def test_every_entry_carries_a_name(keeper):
    with pytest.raises(JobRuleError, match="enter your name"):
        consider(replace(keeper, by=" "), Intake(DAY, CLEAR), "bought")


def test_a_description_that_cannot_be_read_opens_no_job(keeper):
    with pytest.raises(UnitFileError, match="port-pins-dmaged"):
        consider(keeper, Intake(DAY, CLEAR.replace("damaged", "dmaged")), "bought")
    with keeper.ledger.reading() as reading:
        assert reading.jobs() == ()


def test_a_battery_stays_dangerous_until_a_new_one_is_in(keeper):
    job = AtTheDesk(keeper, consider(keeper, Intake(DAY, CLEAR), "bought"))
    job.do(look_at_battery, "cell-swollen", "display lifted")
    assert job.refused(look_at_battery) == ("the battery was already inspected",)
    assert "stopped: the battery is dangerous" in job.refused(take, DAY, 4000)[0]
    assert job.words().next_act.startswith("resolve the stop: the battery is dangerous")
    assert job.refused(resolve_stop, job.file.open_stops[0].id, " ") == ("enter how the stop was resolved",)
    job.do(resolve_stop, job.file.open_stops[0].id, "out, in the fire box")
    assert job.refused(resolve_stop, job.file.stops[0].id, "again") == ("this job has no such open stop",)
    job.do(take, DAY, 4000)
    job.do(keep_passcode, "zigzag-left")
    job.do(withdraw, job.file.checks[0].id, "another unit's")
    assert job.file.has_passcode and job.file.checks == ()
    job.do(found_damage, FoundDamage("identity-mismatch", known_at="opening"))
    assert job.file.open_stops[0].record.about == "ownership"
    assert "already recorded" in job.refused(found_damage, FoundDamage("cell-swollen"))[0]
    assert job.refused(found_damage, FoundDamage("rust")) == ("the catalogue has no damage 'rust'",)
    job.do(dispose, DAY, "as local rules say")
    assert job.file.state == "disposed" and not job.file.has_passcode
    assert job.refused(keep_passcode, "") == (
        "enter the passcode",
        "no passcode can be saved while the job is disposed of",
    )


def test_parts_of_a_stripped_unit_share_its_price_and_are_used_once(keeper):
    donor = bought(keeper, price=5000)
    assert donor.refused(strip, DAY, [TakenPart("rust")]) == ("the catalogue has no part 'rust'",)
    taken = [
        TakenPart("display", True, "A", "bin 3", worth=60.0), TakenPart("charge-board"), TakenPart("torch")
    ]  # fmt: skip
    donor.do(strip, DAY, taken)
    with keeper.ledger.reading() as reading:
        parts, moves = reading.shelf(), reading.shelf_moves()
    assert sum(part.record.cost_minor for part in parts) == 5000
    assert [part.record.paired for part in parts] == [True, False, False]
    display, board = parts[0], parts[1]
    assert (display.record.donor, display.record.bin, display.record.model) == (donor.file.id, "bin 3", "K2")

    job, other = bought(keeper), bought(keeper)
    assert "paired to its donor device" in job.refused(reserve_part, display.id, DAY)[0]
    job.do(reserve_part, display.id, DAY, "maker's service tool, account of the bench")
    job.do(reserve_part, board.id, DAY)
    assert other.refused(reserve_part, board.id, DAY) == ("this part is reserved: it cannot be reserved",)
    assert other.refused(reserve_part, 9999, DAY) == ("this part is not on the shelf",)
    assert job.refused(order_part, PartOrdered("torch", "own", 1, shelf=parts[2].id))
    job.do(move, "start", DAY)
    job.do(part_fate, PartFate(job.file.orders[0].id, DAY, "fitted"))
    # Dead once it was in: it has left the shelf already.
    job.do(part_fate, PartFate(job.file.orders[0].id, DAY, "dead-on-arrival"))
    # What was reserved and not fitted goes back when the unit leaves.
    job.do(strip, DAY, [])
    with keeper.ledger.reading() as reading:
        free = on_hand(reading.shelf(), reading.shelf_moves())
    assert [part.record.part for part in free] == ["charge-board", "torch"]
    assert job.file.fates[-1].record.fate == "sent-back"
    assert len(moves) == 0


def test_a_decision_is_kept_as_it_was_given(keeper):
    unit = Unit("black phone", "middle", (Finding("port-pins-damaged"),))
    answer = assess(unit, keeper.shop, ask=40.0)
    job = AtTheDesk(
        keeper, consider(keeper, Intake(DAY, CLEAR, battery_looked_at=True), "bought", passcode="1")
    )
    job.do(decide, answer)
    kept = job.file.decisions[0].record
    manifest = keeper.shop.posterior.manifest
    assert (kept.verdict, kept.posterior, kept.priors) == (
        answer.verdict,
        manifest.folder,
        keeper.shop.priors.digest,
    )
    assert kept.price_minor == 4000 and kept.limit_minor == round(answer.limit * 100)
    chances, dots, forecast = (json.loads(text) for text in (kept.chances, kept.dots, kept.forecast))
    assert chances == {row.kind: row.mean for row in answer.findings}
    assert len(dots) == 20 and sum(dot < 0 for dot in dots) == kept.losses_in_20
    assert forecast["findings"]["port-pins-damaged"]["severity"] == 2
    assert job.refused(correct, job.file.decisions[0].id, "hindsight", verdict="leave it")

    assert job.refused(later_fate, 100, "heard") == ("only a declined device can have a result elsewhere",)
    job.do(decline, DAY)
    assert not job.file.has_passcode
    job.do(later_fate, 3500, "sold mended at the market")
    job.do(move, "reconsider", DAY)
    assert job.file.state == "considered"


def test_a_correction_keeps_what_it_replaces(keeper):
    job = bought(keeper)
    job.do(correct, job.file.findings[0].id, "measured", severity=3)
    assert job.file.findings[0].record.severity == 3
    assert job.refused(correct, 9999, "slip") == ("this job has no such entry",)
    with keeper.ledger.reading() as reading:
        line = reading.audit(job.file.id)[-1]
    assert (line.by, line.was.severity, line.now.severity, line.why) == ("ada", 2, 3, "measured")


def test_a_bought_unit_is_neither_sold_nor_stripped_before_its_holding_period_is_over(keeper):
    held = replace(keeper.shop, settings=replace(keeper.shop.settings, hold_days=14))
    keeper = replace(keeper, shop=held)
    job = bought(keeper)
    soon, later = DAY + timedelta(days=13), DAY + timedelta(days=14)
    assert job.refused(strip, soon, [TakenPart("brackets")]) == (
        f"the holding period in your settings ends on {later:%d %b %Y}: "
        "sell or strip the device on that day or later",
    )
    job.do(strip, later, [TakenPart("brackets")])
    assert job.file.state == "stripped"
