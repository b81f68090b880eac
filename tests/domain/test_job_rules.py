"""What the rules of a job refuse, one case a refusal. Rules without a source are common practice."""

from dataclasses import replace
from datetime import date

import pytest

from tests.domain.job_files import DAY, LOOKED, handed, job, kept, quote, yes
from triage.domain.bench_rules import attempt_refusals, check_refusals, line_refusals, look_refusals
from triage.domain.catalogue import load_catalogue
from triage.domain.comebacks import COUNTED, comeback_refusals, counts
from triage.domain.corrections import correction_refusals, withdrawal_refusals
from triage.domain.job_ending import (
    disclosure_text,
    dispose_refusals,
    return_refusals,
    sale_refusals,
    strip_refusals,
)
from triage.domain.job_record import (
    Answer,
    Attempt,
    CheckMade,
    Comeback,
    Decision,
    FoundDamage,
    HandOver,
    LineChecked,
    LookedInside,
    Moved,
    PartFate,
    PartOrdered,
    Payment,
    Stop,
    StopResolved,
)
from triage.domain.job_rules import HELD_BACK, move_refusals
from triage.domain.owner_consent import answer_overdue, answer_refusals, quote_refusals, standing_consent
from triage.domain.part_orders import NEXT_FATES, fate_refusals, order_refusals
from triage.domain.settings import Settings

C = load_catalogue()
S = Settings("bench", "EUR")
PORT = Attempt("port-pins-damaged", "fixed", "resolder-port")
LOCKED = Stop("it is locked to somebody who is not here", "ownership")
CELL = Stop("the battery is dangerous: make it safe and keep it apart", "battery")
DATA = Stop("data are wanted and not backed up: no heat on the board before", "data")
UNSEEN = replace(LOOKED, battery_looked_at=False)
# An owner's unit with a yes: the quote is record 3.
AGREED = (quote(), yes(3))
PORT_ORDER = PartOrdered("charge-port", "usual", 7000, 1000, returnable_until=DAY)


def says(refusals, *words):
    """Exactly these refusals, each known by a few of its words."""
    assert len(refusals) == len(words), refusals
    for said, word in zip(refusals, words, strict=True):
        assert word in said
    return True


# -- stops and the look at the battery ------------------------------------------------
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
    first = "look at the battery first"
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
    assert says(strip_refusals(wanted, (), C), "data on it are still wanted")
    assert "data on it are still wanted: save them first" in sale_refusals(
        job("bought", "ready", DATA), handed(), "", C
    )


def test_a_wait_says_for_what():
    assert says(move_refusals(job("bought", "taken"), "wait", C), "say what it waits for")
    assert move_refusals(job("bought", "taken"), "wait", C, "tool") == ()


# -- quotes and answers ---------------------------------------------------------------
OWNERS = job("walk-in", "considered", quote())


@pytest.mark.parametrize(
    ("file", "given", "words"),
    [
        (job("bought", "taken"), quote(), ["only an owner is quoted"]),
        (job("walk-in", "ready"), quote(), ["not quoted any more"]),
        (OWNERS, quote(), ["number 2"]),
        (OWNERS, quote(number=2, price=9000, ceiling=8000), ["ceiling cannot be less"]),
        (OWNERS, quote(number=2, until=date(2026, 11, 1)), ["out of date"]),
        (OWNERS, quote('["rust"]', number=2), ["no damage is called 'rust'"]),
        (OWNERS, quote(number=2), []),
    ],
)
def test_a_quote(file, given, words):
    assert says(quote_refusals(file, given, C), *words)


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        (yes(3), []),
        (replace(yes(3), yes=False, ceiling_minor=0), []),
        (replace(yes(3), who=" "), ["say who answered"]),
        (replace(yes(3), how=""), ["silence is never a yes"]),
        (yes(99), ["no such quote"]),
        (yes(3, on=date(2026, 11, 1)), ["older than its quote"]),
        (yes(3, on=date(2026, 12, 5)), ["ran out on 04 Dec 2026"]),
        (yes(3, ceiling=8999), ["less than the price"]),
        (yes(3, ceiling=12001), ["more than the quote's ceiling"]),
    ],
)
def test_an_answer(answer, words):
    assert says(answer_refusals(OWNERS, answer), *words)


def test_a_replaced_quote_cannot_be_accepted_nor_one_of_a_finished_job():
    two = job("walk-in", "taken", quote(), quote(number=2))
    assert says(answer_refusals(two, yes(3)), "replaced by quote 2")
    assert says(answer_refusals(job("walk-in", "ready", quote()), yes(3)), "takes no answer any more")


def test_an_owner_s_unit_is_taken_in_on_a_yes_or_a_paid_diagnosis():
    assert says(move_refusals(OWNERS, "take", C), "has not said yes")
    assert move_refusals(job("walk-in", "considered", *AGREED), "take", C) == ()
    assert move_refusals(job("walk-in", "considered", Payment("diagnostic-fee", 2000, DAY)), "take", C) == ()


def test_the_last_answer_stands():
    no = Answer(3, DAY, False, "Bo Marsh", "by telephone")
    assert standing_consent(job("walk-in", "taken", *AGREED)).ceiling_minor == 12000
    assert standing_consent(job("walk-in", "taken", *AGREED, no)) is None
    assert standing_consent(OWNERS) is None  # silence


@pytest.mark.parametrize(
    ("records", "words"),
    [
        (AGREED, []),
        ((quote(),), ["has not said yes to this work"]),
        ((quote("[]"), yes(3)), ["pays for opening and checks only"]),
        ((quote('["camera-dead"]'), yes(3)), ["does not cover"]),
        # A dearer quote waits for a new yes; one within the ceiling does not.
        ((*AGREED, quote(number=2, price=12500, ceiling=13000)), ["quote 2 asks €125.00", ]),
        ((*AGREED, quote(number=2, price=11000, ceiling=13000)), []),
        ((*AGREED, quote(number=2, price=12500, ceiling=13000), yes(5, ceiling=13000)), []),
    ],
)  # fmt: skip
def test_work_keeps_to_what_the_owner_said_yes_to(records, words):
    assert says(attempt_refusals(job("walk-in", "in-work", *records), PORT, C), *words)


@pytest.mark.parametrize(
    ("records", "part", "cost", "words"),
    [
        (AGREED, "charge-port", 12000, []),
        (AGREED, "charge-port", 12001, ["said yes up to €120.00"]),
        (AGREED, "rear-camera", 500, ["nothing the owner said yes to uses this part (rear camera)"]),
        ((), "charge-port", 500, ["has not said yes to buying"]),
        ((quote("[]"), yes(3)), "charge-port", 500, ["not for parts"]),
        ((*AGREED, quote(number=2, price=12500, ceiling=13000)), "charge-port", 500, ["wait for a new yes"]),
        ((*AGREED, PORT_ORDER), "charge-port", 4001, ["parts would come to €120.01"]),
    ],
)  # fmt: skip
def test_parts_keep_to_what_the_owner_said_yes_to(records, part, cost, words):
    order = PartOrdered(part, "usual source", cost, returnable_until=DAY)
    assert says(order_refusals(job("walk-in", "in-work", *records), order, C), *words)


def test_refunds_and_parts_back_on_the_shelf_do_not_count_against_the_ceiling():
    spent = PartOrdered("charge-port", "usual", 11000, returnable_until=DAY)
    fates = [PartFate(5, DAY, "arrived"), PartFate(5, DAY, "sent-back"), PartFate(5, DAY, "refunded", 11000)]
    order = PartOrdered("charge-port", "usual source", 12000, returnable_until=DAY)
    assert order_refusals(job("walk-in", "in-work", *AGREED, spent, *fates), order, C) == ()
    shelf = replace(spent, shelf=7, returnable_until=None)
    assert order_refusals(job("walk-in", "in-work", *AGREED, shelf, *fates[:2]), order, C) == ()


def test_opening_wants_a_yes_or_a_paid_diagnosis():
    opened = CheckMade("cell-look", False)
    assert says(check_refusals(job("walk-in", "taken"), opened, C), "not said yes to opening")
    assert says(look_refusals(job("walk-in", "taken"), (), C), "not said yes to opening")
    assert check_refusals(job("walk-in", "taken"), CheckMade("six-face-look", True), C) == ()
    assert check_refusals(job("walk-in", "taken", quote("[]"), yes(3)), opened, C) == ()
    assert check_refusals(job("walk-in", "taken", Payment("diagnostic-fee", 2000, DAY)), opened, C) == ()
    dearer = job("walk-in", "taken", *AGREED, quote(number=2, price=12500, ceiling=13000))
    assert says(check_refusals(dearer, opened, C), "wait for a new yes")


def test_after_the_days_for_an_answer_it_is_overdue():
    asked = job("walk-in", "waiting", quote())  # 14 days from 20 November: 4 December
    assert answer_overdue(asked, date(2026, 12, 4), S) is None
    assert answer_overdue(asked, date(2026, 12, 5), S) == date(2026, 12, 4)
    assert answer_overdue(job("walk-in", "waiting", *AGREED), date(2027, 1, 1), S) is None
    assert answer_overdue(job("walk-in", "returned-unfixed", quote()), date(2027, 1, 1), S) is None


# -- parts ----------------------------------------------------------------------------
def test_a_part_that_cannot_go_back_wants_a_deposit_from_an_owner():
    bound = PartOrdered("charge-port", "usual source", 3000, 600)
    assert says(order_refusals(job("walk-in", "in-work", *AGREED), bound, C), "take a deposit of €36.00")
    paid = (*AGREED, Payment("deposit", 3600, DAY))
    assert order_refusals(job("walk-in", "in-work", *paid), bound, C) == ()
    # The same deposit does not carry a second such part.
    assert says(order_refusals(job("walk-in", "in-work", *paid, bound), bound, C), "take a deposit of €72.00")
    assert order_refusals(job("bought", "in-work"), bound, C) == ()
    assert order_refusals(job("walk-in", "in-work", *AGREED), replace(bound, shelf=9), C) == ()


def test_an_order_names_a_part_costs_something_and_belongs_to_open_work():
    order = PartOrdered("flux-capacitor", "usual source", -1)
    words = ["no part is ordered for a job that is ready", "no part is called", "costs nothing or more"]
    assert says(order_refusals(job("bought", "ready"), order, C), *words)


# What may become of a part: one dead on arrival is claimed, and a claim ends in money or in none.
FATES = {
    "ordered": "arrived lost refunded", "arrived": "dead-on-arrival fitted sent-back lost",
    "dead-on-arrival": "claimed", "claimed": "refunded", "sent-back": "refunded", "fitted": "dead-on-arrival",
    "lost": "claimed arrived", "refunded": "",
}  # fmt: skip


@pytest.mark.parametrize("now", FATES)
def test_what_may_become_of_a_part(now):
    order = PartOrdered("charge-port", "usual", 500, returnable_until=DAY)
    before = [] if now == "ordered" else [PartFate(3, DAY, now)]
    for fate in set(FATES) - {"ordered"}:
        refused = fate_refusals(job("bought", "in-work", order, *before), PartFate(3, DAY, fate))
        assert (refused == ()) == (fate in FATES[now].split()), (now, fate, refused)
    assert set(NEXT_FATES) == set(FATES)


@pytest.mark.parametrize(
    ("state", "order", "fate", "words"),
    [
        ("in-work", {"returnable_until": None}, PartFate(3, DAY, "sent-back"), ["does not take it back"]),
        ("in-work", {}, PartFate(3, date(2026, 12, 1), "sent-back"), ["took it back until 20 Nov 2026"]),
        ("waiting", {}, PartFate(3, DAY, "fitted"), ["no part is fitted"]),
        ("in-work", {}, PartFate(3, DAY, "fitted", 100), ["is written down as refunded"]),
        ("in-work", {}, PartFate(9, DAY, "fitted"), ["no such order"]),
        ("in-work", {"shelf": 7}, PartFate(3, DAY, "sent-back"), []),
    ],
)
def test_an_arrived_part(state, order, fate, words):
    part = PartOrdered("charge-port", "usual", 500, returnable_until=DAY)
    file = job("bought", state, replace(part, **order), PartFate(3, DAY, "arrived"))
    assert says(fate_refusals(file, fate), *words)


def test_a_claim_brings_back_no_more_than_the_part_cost_and_none_from_the_own_shelf():
    order, dead = PartOrdered("charge-port", "usual", 500, 100), PartFate(3, DAY, "dead-on-arrival")
    claimed = PartFate(3, DAY, "claimed")
    file = job("bought", "in-work", order, dead, claimed)
    assert fate_refusals(file, PartFate(3, DAY, "refunded", 600)) == ()
    assert says(fate_refusals(file, PartFate(3, DAY, "refunded", 601)), "no more comes back")
    own = job("bought", "in-work", replace(order, shelf=7), dead)
    assert says(fate_refusals(own, claimed), "nobody pays for it")


# -- the bench ------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("attempt", "words"),
    [
        (Attempt("rust", "not-attempted", why_not="x"), ["no damage is called"]),
        (Attempt("port-dirty", "fixed", "magic"), ["no repair is called"]),
        (Attempt("port-dirty", "fixed", "swap-display"), ["does not close"]),
        (Attempt("board-bent", "fixed"), ["no repair closes"]),
        (replace(PORT, round=1), ["this is round 0"]),
        (Attempt("port-dirty", "not-attempted"), ["say why"]),
        (PORT, []),
    ],
)
def test_an_attempt(attempt, words):
    assert says(attempt_refusals(job("bought", "in-work"), attempt, C), *words)


def test_work_is_done_on_a_job_in_work_what_was_left_alone_is_said_any_time():
    assert says(attempt_refusals(job("bought", "taken"), PORT, C), "no work is done on a job that is taken")
    left = Attempt("port-dirty", "not-attempted", why_not="not worth it")
    assert attempt_refusals(job("bought", "sold", intake=UNSEEN), left, C) == ()


@pytest.mark.parametrize(
    ("state", "made", "words"),
    [
        ("in-work", "guess", ["no check is called"]),
        ("ready", "six-face-look", ["no check is made on a job that is ready"]),
        ("considered", "cell-look", ["not taken in is not opened"]),
        ("considered", "six-face-look", []),
    ],
)
def test_a_check(state, made, words):
    assert says(check_refusals(job("bought", state), CheckMade(made, True), C), *words)


def test_a_look_inside():
    assert says(look_refusals(job("bought", "ready"), ("rust",), C), "no damage is called", "is not opened")


@pytest.mark.parametrize(
    ("state", "line", "reading", "unit", "words"),
    [
        ("in-work", "hum-test", None, "", ["no line of the final check"]),
        ("taken", "solder-look", None, "", ["no final check is made on a job that is taken"]),
        ("in-work", "solder-look", 3.0, "A", ["no reading is taken"]),
        ("in-work", "sleep-current", None, "", ["type the reading in mA"]),
        ("in-work", "sleep-current", 0.004, "A", ["in mA, not A"]),
        ("in-work", "sleep-current", 4.0, "", ["in mA, not a bare number"]),
        ("in-work", "sleep-current", 4.0, "mA", []),
    ],
)
def test_a_line_of_the_final_check(state, line, reading, unit, words):
    assert says(line_refusals(job("bought", state), line, "pass", reading, unit, C), *words)


def test_a_measured_line_that_cannot_be_measured_needs_no_reading():
    assert line_refusals(job("bought", "in-work"), "sleep-current", "cannot", None, "", C) == ()


# -- verified, sold, returned -----------------------------------------------------------
SOLD_LINES = ("wipe-proof", "identity-numbers", "cosmetic-grade", "stock-and-tax-record")
ALL_WELL = tuple(LineChecked(line, "pass") for line in SOLD_LINES)
SCUFFED = tuple(
    LineChecked(line, "fail" if line == "cosmetic-grade" else "pass") for line in SOLD_LINES
)  # fmt: skip


def test_the_final_check_is_closed_when_every_line_is_answered_and_failures_are_accepted():
    assert len(move_refusals(job("bought", "in-work"), "verify", C)) == 4
    assert "not checked yet" in move_refusals(job("bought", "verified"), "make-ready", C)[0]
    assert move_refusals(job("bought", "in-work", *ALL_WELL), "verify", C) == ()
    failed = job("bought", "in-work", *SCUFFED)
    assert says(move_refusals(failed, "verify", C), "failed: grade of looks")
    assert move_refusals(failed, "verify", C, accepted_failures="sold as scuffed") == ()


@pytest.mark.parametrize(
    ("lines", "handover", "words"),
    [
        (ALL_WELL, handed(), []),
        (ALL_WELL, handed(wiped=" "), ["how what is on it was erased"]),
        (ALL_WELL, handed(person=""), ["who bought it"]),
        (SCUFFED, handed(), ["not working: failed"]),
        (ALL_WELL[:3], handed(), ["not working: not tested: stock book"]),
        (SCUFFED, handed("downgraded", "some marks"), ["does not say: grade of looks, with photographs"]),
        (SCUFFED, handed("downgraded", "Did not pass: grade of looks, with photographs."), []),
        (ALL_WELL, handed("parts"), []),
    ],
)
def test_a_sale(lines, handover, words):
    assert says(sale_refusals(job("bought", "ready", *lines), handover, "", C), *words)


def test_a_lost_function_is_disclosed_and_a_needed_damage_makes_it_unfixed():
    lost = job("bought", "ready", FoundDamage("torch-dead"), *ALL_WELL)
    assert says(sale_refusals(lost, handed(), "", C), "not repaired: ")
    assert disclosure_text(lost, C) == "Without torch and camera flash."
    assert sale_refusals(lost, handed("downgraded", disclosure_text(lost, C)), "", C) == ()
    dead = job("bought", "ready", FoundDamage("main-rail-short"), *SCUFFED)
    told = disclosure_text(dead, C)
    assert says(sale_refusals(dead, handed("downgraded", told), "", C), "it is unfixed, not downgraded")
    assert sale_refusals(dead, handed("unfixed", told), "", C) == ()


def test_what_was_found_on_opening_counts_like_what_was_seen():
    opened = job("bought", "ready", LookedInside("torch-dead"), *ALL_WELL)
    assert "not working: not repaired: torch dead" in [
        why.lower() for why in sale_refusals(opened, handed(), "", C)
    ]


def test_a_dangerous_cell_is_never_sold_nor_shelved():
    swollen = job("bought", "ready", FoundDamage("cell-swollen"), *ALL_WELL)
    told = disclosure_text(swollen, C)
    assert says(sale_refusals(swollen, handed("parts", told), "", C), "a dangerous cell is never sold")
    assert says(strip_refusals(job("bought", "taken", FoundDamage("cell-swollen")), ("battery", "rust"), C),
                "no part is called", "a dangerous cell never goes on the shelf")  # fmt: skip
    assert strip_refusals(job("bought", "taken", FoundDamage("cell-swollen")), ("display",), C) == ()


def test_a_unit_nobody_fetched_is_sold_or_disposed_of_only_with_lawful_notice():
    # UK Torts (Interference with Goods) Act 1977, section 12 and Schedule 1 (memory); local law comes first.
    left = job("walk-in", "uncollected", *ALL_WELL)
    notice = "recorded letter of 1 September, answer by 1 December"
    assert says(sale_refusals(left, handed(), "", C), "nobody fetched it")
    assert sale_refusals(left, handed(), notice, C) == ()
    assert says(dispose_refusals(left, " ", C), "nobody fetched it")
    assert dispose_refusals(left, notice, C) == ()
    assert dispose_refusals(job("bought", "taken"), "", C) == ()


@pytest.mark.parametrize(
    ("records", "handover", "fixed", "words"),
    [
        ((), HandOver(DAY, "working"), True, []),
        ((), HandOver(DAY, "unfixed"), True, ["is working or downgraded", ]),
        ((FoundDamage("torch-dead"),), HandOver(DAY, "working"), True, ["not repaired"]),
        ((FoundDamage("torch-dead"),), HandOver(DAY, "unfixed"), False, []),
        ((), HandOver(DAY, "working"), False, ["goes back unfixed is called unfixed"]),
    ],
)  # fmt: skip
def test_a_return(records, handover, fixed, words):
    assert says(return_refusals(job("walk-in", "ready", *records), handover, fixed, C), *words)


# -- comebacks and corrections ------------------------------------------------------------
def test_only_the_shop_s_own_work_counts_as_a_comeback():
    kinds = ("same-fault", "our-damage", "dead-part", "new-damage", "no-fault-found")
    assert tuple(kind for kind in kinds if counts(Comeback(DAY, kind))) == kinds[:3] == COUNTED


@pytest.mark.parametrize(
    ("comeback", "words"),
    [
        (Comeback(DAY, "same-fault"), []),
        (Comeback(date(2026, 11, 1), "same-fault"), ["before it was handed over"]),
        (Comeback(DAY, "same-fault", cost_minor=-1), ["costs nothing or more"]),
        (Comeback(DAY, "same-fault", "declined"), ["cannot be declined"]),
        (Comeback(date(2027, 3, 1), "same-fault", "declined"), []),  # after its 90 days
        (Comeback(DAY, "new-damage", "declined"), []),
    ],
)
def test_a_comeback(comeback, words):
    assert says(comeback_refusals(job("bought", "sold", handed()), comeback), *words)


@pytest.mark.parametrize(
    ("remedy", "way", "words"),
    [
        ("rework", "rework", []),
        ("refund", "take-back", []),
        ("replacement", "take-back", []),
        ("declined", "send-back", []),
        ("open", "rework", ["decide first"]),
        ("refund", "rework", ["what was decided is refund"]),
        ("rework", "take-back", ["what was decided is rework"]),
    ],
)
def test_the_remedy_of_a_comeback_says_which_way_it_goes(remedy, way, words):
    back = job("bought", "came-back", Comeback(DAY, "new-damage", remedy))
    assert says(move_refusals(back, way, C), *words)
    assert says(move_refusals(job("bought", "came-back"), way, C), "write down what it came back for")


BACK = Comeback(DAY, "same-fault", "rework")


@pytest.mark.parametrize(
    ("records", "old", "changed", "why", "words"),
    [
        ((), PORT, {"outcome": "not-fixed"}, "failed its final check", []),
        ((), PORT, {"outcome": "not-fixed"}, " ", ["say why"]),
        ((), PORT, {}, "slip", ["nothing is changed"]),
        ((), PORT, {"finding": "port-dirty"}, "slip", ["finding is not corrected"]),
        ((), PORT, {"round": 1}, "slip", ["round is not corrected"]),
        # Its comeback never rewrites how an earlier round ended; a slip of the pen in it may be put right.
        ((BACK,), PORT, {"outcome": "not-fixed"}, "came back", ["is not rewritten by what came after"]),
        ((BACK,), PORT, {"minutes": 40.0}, "misread", []),
        (
            (),
            LineChecked("sleep-current", "fail", 12.0, "mA"),
            {"result": "pass"},
            "slip",
            ["outside the limit"],
        ),
        (
            (),
            LineChecked("sleep-current", "fail", 12.0, "mA"),
            {"result": "pass", "reading": 1.2},
            "slip",
            [],
        ),
        ((), handed("downgraded"), {"grade": "working"}, "slip", ["grade is not corrected"]),
        ((), CELL, {"about": "other"}, "slip", ["about is not corrected"]),
        ((), Moved("take", "taken", DAY), {"state": "sold"}, "slip", ["state is not corrected"]),
        ((), Answer(3, DAY, False, "Bo", "in person"), {"yes": True}, "slip", ["yes is not corrected"]),
        ((), yes(3), {"ceiling_minor": 1}, "slip", ["ceiling is not corrected"]),
        ((), quote(), {"price_minor": 1}, "slip", ["give a new one"]),
        ((), Decision("take it", "p", "q", "1", ""), {"verdict": "leave it"}, "slip", ["decide again"]),
        ((), LOOKED, {"description": "other"}, "slip", ["what was judged at intake stands"]),
        ((), LOOKED, {"contact": "by the quay"}, "moved", []),
    ],
)
def test_a_correction(records, old, changed, why, words):
    file = job("bought", "in-work", *records)
    assert says(correction_refusals(file, kept(9, old), replace(old, **changed), why, C), *words)


def test_a_correction_stays_with_its_kind_of_record():
    file = job("bought", "in-work")
    assert says(correction_refusals(file, kept(9, PORT), LOOKED, "slip", C), "the same kind of thing")


@pytest.mark.parametrize(
    ("records", "old", "why", "words"),
    [
        ((), PORT, "wrong job", []),
        ((), PORT, "", ["say why"]),
        ((), LineChecked("solder-look", "fail"), "slip", ["this is not taken out"]),
        ((), Stop("locked", "ownership"), "slip", ["this is not taken out"]),
        ((BACK,), PORT, "slip", ["of a round that ended is corrected"]),
        ((PORT,), FoundDamage("port-pins-damaged"), "slip", ["it was worked on"]),
        ((PartFate(2, DAY, "arrived"),), PORT_ORDER, "slip", ["something became of this part"]),
    ],
)
def test_what_is_taken_out_as_a_mistake(records, old, why, words):
    file = job("bought", "in-work", *records)
    assert says(withdrawal_refusals(file, kept(2, old), why), *words)
