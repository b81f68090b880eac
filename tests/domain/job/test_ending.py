"""How a job ends, comes back and is corrected: one case a refusal.

Rules without a source are common practice.
"""

from dataclasses import replace
from datetime import date

import pytest

from tests.domain.job_files import DAY, LOOKED, handed, job, kept, quote, says, yes
from triage.domain.catalogue import load_catalogue
from triage.domain.job.comebacks import COUNTED, comeback_refusals, counts
from triage.domain.job.corrections import correction_refusals, withdrawal_refusals
from triage.domain.job.ending import (
    disclosure_text,
    dispose_refusals,
    return_refusals,
    sale_refusals,
    strip_refusals,
)
from triage.domain.job.records import (
    Answer,
    Attempt,
    Comeback,
    Decision,
    FoundDamage,
    HandOver,
    LineChecked,
    LookedInside,
    Moved,
    PartFate,
    PartOrdered,
    Stop,
)
from triage.domain.job.rules import move_refusals

C = load_catalogue()
PORT = Attempt("port-pins-damaged", "fixed", "resolder-port")
CELL = Stop("the battery is dangerous: make it safe and store it apart", "battery")
PORT_ORDER = PartOrdered("charge-port", "usual", 7000, 1000, returnable_until=DAY)


SOLD_LINES = ("wipe-proof", "identity-numbers", "cosmetic-grade", "stock-and-tax-record")
ALL_WELL = tuple(LineChecked(line, "pass") for line in SOLD_LINES)
SCUFFED = tuple(
    LineChecked(line, "fail" if line == "cosmetic-grade" else "pass") for line in SOLD_LINES
)  # fmt: skip


def test_the_final_check_is_closed_when_every_line_is_answered_and_failures_are_accepted():
    assert len(move_refusals(job("bought", "in-work"), "verify", C)) == 4
    assert "not tested yet" in move_refusals(job("bought", "verified"), "make-ready", C)[0]
    assert move_refusals(job("bought", "in-work", *ALL_WELL), "verify", C) == ()
    failed = job("bought", "in-work", *SCUFFED)
    assert says(move_refusals(failed, "verify", C), "failed: cosmetic grade")
    assert move_refusals(failed, "verify", C, accepted_failures="sold as scuffed") == ()


@pytest.mark.parametrize(
    ("lines", "handover", "words"),
    [
        (ALL_WELL, handed(), []),
        (ALL_WELL, handed(wiped=" "), ["method and the proof of the data wipe"]),
        (ALL_WELL, handed(person=""), ["enter the buyer"]),
        (SCUFFED, handed(), ["not fully working, failed"]),
        (ALL_WELL[:3], handed(), ["not fully working, not tested: stock book"]),
        (
            SCUFFED,
            handed("downgraded", "some marks"),
            ["written disclosure: cosmetic grade, with photographs"],
        ),
        (SCUFFED, handed("downgraded", "Did not pass: cosmetic grade, with photographs."), []),
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
    assert says(sale_refusals(dead, handed("downgraded", told), "", C), 'at best the grade "not repaired"')
    assert sale_refusals(dead, handed("unfixed", told), "", C) == ()


def test_what_was_found_on_opening_counts_like_what_was_seen():
    opened = job("bought", "ready", LookedInside("torch-dead"), *ALL_WELL)
    assert "not fully working, not repaired: torch dead" in [
        why.lower() for why in sale_refusals(opened, handed(), "", C)
    ]


def test_a_dangerous_cell_is_never_sold_nor_shelved():
    swollen = job("bought", "ready", FoundDamage("cell-swollen"), *ALL_WELL)
    told = disclosure_text(swollen, C)
    assert says(sale_refusals(swollen, handed("parts", told), "", C), "a dangerous battery is never sold")
    assert says(strip_refusals(job("bought", "taken", FoundDamage("cell-swollen")), ("battery", "rust"), C),
                "the catalogue has no part", "a dangerous battery never goes on the shelf")  # fmt: skip
    assert strip_refusals(job("bought", "taken", FoundDamage("cell-swollen")), ("display",), C) == ()


def test_an_uncollected_unit_is_sold_or_disposed_of_only_with_lawful_notice():
    # UK Torts (Interference with Goods) Act 1977, section 12 and Schedule 1 (memory); local law comes first.
    left = job("walk-in", "uncollected", *ALL_WELL)
    notice = "recorded letter of 1 September, answer by 1 December"
    assert says(sale_refusals(left, handed(), "", C), "the device is uncollected")
    assert sale_refusals(left, handed(), notice, C) == ()
    assert says(dispose_refusals(left, " ", C), "the device is uncollected")
    assert dispose_refusals(left, notice, C) == ()
    assert dispose_refusals(job("bought", "taken"), "", C) == ()


@pytest.mark.parametrize(
    ("records", "handover", "fixed", "words"),
    [
        ((), HandOver(DAY, "working"), True, []),
        ((), HandOver(DAY, "unfixed"), True, ["returned repaired cannot have", ]),
        ((FoundDamage("torch-dead"),), HandOver(DAY, "working"), True, ["not repaired"]),
        ((FoundDamage("torch-dead"),), HandOver(DAY, "unfixed"), False, []),
        ((), HandOver(DAY, "working"), False, ["returned unrepaired needs the grade"]),
    ],
)  # fmt: skip
def test_a_return(records, handover, fixed, words):
    assert says(return_refusals(job("walk-in", "ready", *records), handover, fixed, C), *words)


def test_only_the_shop_s_own_work_counts_as_a_comeback():
    kinds = ("same-fault", "our-damage", "dead-part", "new-damage", "no-fault-found")
    assert tuple(kind for kind in kinds if counts(Comeback(DAY, kind))) == kinds[:3] == COUNTED


@pytest.mark.parametrize(
    ("comeback", "words"),
    [
        (Comeback(DAY, "same-fault"), []),
        (Comeback(date(2026, 11, 1), "same-fault"), ["dated before the device left"]),
        (Comeback(DAY, "same-fault", cost_minor=-1), ["cost of a comeback must be 0 or more"]),
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
        ("open", "rework", ["choose the remedy first"]),
        ("refund", "rework", ["the remedy is refund"]),
        ("rework", "take-back", ["the remedy is rework"]),
    ],
)
def test_the_remedy_of_a_comeback_says_which_way_it_goes(remedy, way, words):
    back = job("bought", "came-back", Comeback(DAY, "new-damage", remedy))
    assert says(move_refusals(back, way, C), *words)
    assert says(move_refusals(job("bought", "came-back"), way, C), "record the comeback first")


BACK = Comeback(DAY, "same-fault", "rework")


@pytest.mark.parametrize(
    ("records", "old", "changed", "why", "words"),
    [
        ((), PORT, {"outcome": "not-fixed"}, "failed its final check", []),
        ((), PORT, {"outcome": "not-fixed"}, " ", ["enter the reason for the correction"]),
        ((), PORT, {}, "slip", ["the correction changes nothing"]),
        ((), PORT, {"finding": "port-dirty"}, "slip", ["finding cannot be corrected"]),
        ((), PORT, {"round": 1}, "slip", ["round cannot be corrected"]),
        # Its comeback never rewrites how an earlier round ended; a slip of the pen in it may be put right.
        (
            (BACK,),
            PORT,
            {"outcome": "not-fixed"},
            "came back",
            ["outcome of an earlier round cannot be corrected"],
        ),
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
        ((), handed("downgraded"), {"grade": "working"}, "slip", ["grade cannot be corrected"]),
        ((), CELL, {"about": "other"}, "slip", ["about cannot be corrected"]),
        ((), Moved("take", "taken", DAY), {"state": "sold"}, "slip", ["state cannot be corrected"]),
        ((), Answer(3, DAY, False, "Bo", "in person"), {"yes": True}, "slip", ["yes cannot be corrected"]),
        ((), yes(3), {"ceiling_minor": 1}, "slip", ["ceiling cannot be corrected"]),
        ((), quote(), {"price_minor": 1}, "slip", ["give a new one"]),
        ((), Decision("take it", "p", "q", "1", ""), {"verdict": "leave it"}, "slip", ["decide again"]),
        ((), LOOKED, {"description": "other"}, "slip", ["the description at intake cannot be corrected"]),
        ((), LOOKED, {"contact": "by the quay"}, "moved", []),
    ],
)
def test_a_correction(records, old, changed, why, words):
    file = job("bought", "in-work", *records)
    assert says(correction_refusals(file, kept(9, old), replace(old, **changed), why, C), *words)


def test_a_correction_stays_with_its_kind_of_record():
    file = job("bought", "in-work")
    assert says(correction_refusals(file, kept(9, PORT), LOOKED, "slip", C), "must be of the same kind")


@pytest.mark.parametrize(
    ("records", "old", "why", "words"),
    [
        ((), PORT, "wrong job", []),
        ((), PORT, "", ["enter the reason for the removal"]),
        ((), LineChecked("solder-look", "fail"), "slip", ["this entry cannot be removed"]),
        ((), Stop("locked", "ownership"), "slip", ["this entry cannot be removed"]),
        ((BACK,), PORT, "slip", ["of an earlier round can be corrected"]),
        ((PORT,), FoundDamage("port-pins-damaged"), "slip", ["this damage has an attempt"]),
        ((PartFate(2, DAY, "arrived"),), PORT_ORDER, "slip", ["this part has a later status"]),
    ],
)
def test_what_is_removed_as_a_mistake(records, old, why, words):
    file = job("bought", "in-work", *records)
    assert says(withdrawal_refusals(file, kept(2, old), why), *words)
