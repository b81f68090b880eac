"""Stops, the look at the battery, and what is done on the bench: one case a refusal.

Rules without a source are common practice.
"""

from dataclasses import replace

import pytest

from tests.domain.job_files import LOOKED, handed, job, says
from triage.domain.catalogue import load_catalogue
from triage.domain.job.bench_rules import attempt_refusals, check_refusals, line_refusals, look_refusals
from triage.domain.job.ending import (
    sale_refusals,
    strip_refusals,
)
from triage.domain.job.part_orders import order_refusals
from triage.domain.job.records import (
    Attempt,
    CheckMade,
    PartOrdered,
    Stop,
    StopResolved,
)
from triage.domain.job.rules import HELD_BACK, move_refusals

C = load_catalogue()
PORT = Attempt("port-pins-damaged", "fixed", "resolder-port")
LOCKED = Stop("it is locked to somebody who is not here", "ownership")
CELL = Stop("the battery is dangerous: make it safe and store it apart", "battery")
DATA = Stop("data are wanted and not backed up: no heat on the board before they are saved", "data")
UNSEEN = replace(LOOKED, battery_looked_at=False)


@pytest.mark.parametrize("stop", [LOCKED, CELL])
@pytest.mark.parametrize(
    ("state", "move"),
    [("considered", "take"), ("taken", "start"), ("waiting", "resume"), ("ready", "sell"), ("taken", "strip"),
     ("in-work", "verify"), ("verified", "make-ready")],
)  # fmt: skip
def test_an_open_stop_holds_a_move_back_until_it_is_resolved(state, move, stop):
    assert move in HELD_BACK
    stopped = move_refusals(job("bought", state, stop), move, C)
    assert f"stopped: {stop.reason}" in stopped
    resolved = move_refusals(job("bought", state, stop, StopResolved(3, "papers seen")), move, C)
    assert not [why for why in resolved if "stopped" in why]


@pytest.mark.parametrize(
    ("route", "state", "move"),
    [("bought", "considered", "decline"), ("bought", "in-work", "dispose"), ("walk-in", "in-work", "dispose"),
     ("walk-in", "in-work", "return-unfixed"), ("walk-in", "taken", "leave-uncollected")],
)  # fmt: skip
def test_disposal_and_return_stay_allowed_whatever_stops_it(route, state, move):
    stopped = job(route, state, LOCKED, CELL, DATA, intake=UNSEEN)
    assert move_refusals(stopped, move, C) == ()


def test_work_orders_and_final_check_wait_for_a_stop():
    stopped = job("bought", "in-work", CELL)
    order = PartOrdered("charge-port", "usual source", 500)
    assert says(attempt_refusals(stopped, PORT, C), "stopped")
    assert says(order_refusals(stopped, order, C), "stopped")
    assert says(line_refusals(stopped, "solder-look", "pass", None, "", C), "stopped")
    assert says(look_refusals(stopped, (), C), "stopped")


def test_looking_settles_a_stop_so_it_waits_for_none():
    assert check_refusals(job("bought", "taken", CELL), CheckMade("cell-look", True), C) == ()
    assert says(
        check_refusals(job("bought", "taken", CELL), CheckMade("usb-draw-reading", True), C), "stopped"
    )
    assert check_refusals(job("bought", "taken", LOCKED), CheckMade("identity-and-lock-look", True), C) == ()
    assert says(check_refusals(job("bought", "taken", LOCKED), CheckMade("cell-look", True), C), "stopped")


def test_nothing_comes_before_a_look_at_the_battery():
    unseen = job("bought", "in-work", intake=UNSEEN)
    first = "inspect the battery first"
    assert says(attempt_refusals(unseen, PORT, C), first)
    assert says(check_refusals(unseen, CheckMade("six-face-look", True), C), first)
    assert says(order_refusals(unseen, PartOrdered("charge-port", "usual source", 500), C), first)
    assert says(line_refusals(unseen, "solder-look", "pass", None, "", C), first)
    assert says(move_refusals(job("bought", "considered", intake=UNSEEN), "take", C), first)


def test_wanted_data_are_saved_before_heat_on_the_board_and_before_a_sale():
    wanted = job("bought", "in-work", DATA)
    heat = Attempt("joint-cracked", "fixed", "reball-chip")
    assert says(attempt_refusals(wanted, heat, C), "stopped: data are wanted")
    assert attempt_refusals(wanted, Attempt("port-dirty", "fixed", "clean-port"), C) == ()
    assert says(strip_refusals(wanted, (), C), "data on the device are still wanted")
    assert "data on the device are still wanted: save them first" in sale_refusals(
        job("bought", "ready", DATA), handed(), "", C
    )


def test_a_wait_says_for_what():
    assert says(move_refusals(job("bought", "taken"), "wait", C), "choose what it waits for")
    assert move_refusals(job("bought", "taken"), "wait", C, "tool") == ()


@pytest.mark.parametrize(
    ("attempt", "words"),
    [
        (Attempt("rust", "not-attempted", why_not="x"), ["the catalogue has no damage"]),
        (Attempt("port-dirty", "fixed", "magic"), ["the catalogue has no repair"]),
        (Attempt("port-dirty", "fixed", "swap-display"), ["does not repair"]),
        (Attempt("board-bent", "fixed"), ["the catalogue has no repair for"]),
        (replace(PORT, round=1), ["the job is in round 0"]),
        (Attempt("port-dirty", "not-attempted"), ["choose the reason"]),
        (PORT, []),
    ],
)
def test_an_attempt(attempt, words):
    assert says(attempt_refusals(job("bought", "in-work"), attempt, C), *words)


def test_work_is_done_on_a_job_in_work_what_was_left_alone_is_said_any_time():
    assert says(
        attempt_refusals(job("bought", "taken"), PORT, C), "no work is possible while the job is accepted"
    )
    left = Attempt("port-dirty", "not-attempted", why_not="not worth it")
    assert attempt_refusals(job("bought", "sold", intake=UNSEEN), left, C) == ()


@pytest.mark.parametrize(
    ("state", "made", "words"),
    [
        ("in-work", "guess", ["the catalogue has no check"]),
        ("ready", "six-face-look", ["no check is possible while the job is ready"]),
        ("considered", "cell-look", ["accept the job before"]),
        ("considered", "six-face-look", []),
    ],
)
def test_a_check(state, made, words):
    assert says(check_refusals(job("bought", state), CheckMade(made, True), C), *words)


def test_a_look_inside():
    assert says(
        look_refusals(job("bought", "ready"), ("rust",), C),
        "the catalogue has no damage",
        "cannot be opened while the job is ready",
    )


@pytest.mark.parametrize(
    ("state", "line", "reading", "unit", "words"),
    [
        ("in-work", "hum-test", None, "", ["the final check has no line"]),
        ("taken", "solder-look", None, "", ["no final check is possible while the job is accepted"]),
        ("in-work", "solder-look", 3.0, "A", ["takes no reading"]),
        ("in-work", "sleep-current", None, "", ["enter the reading in mA"]),
        ("in-work", "sleep-current", 0.004, "A", ["in mA, not A"]),
        ("in-work", "sleep-current", 4.0, "", ["in mA, not without a unit"]),
        ("in-work", "sleep-current", 4.0, "mA", []),
    ],
)
def test_a_line_of_the_final_check(state, line, reading, unit, words):
    assert says(line_refusals(job("bought", state), line, "pass", reading, unit, C), *words)


def test_a_measured_line_that_cannot_be_measured_needs_no_reading():
    assert line_refusals(job("bought", "in-work"), "sleep-current", "cannot", None, "", C) == ()
