"""What the record says of battery and liquid, and the work that the safety rules forbid then.

Expectations are written from the trade's rules (common practice, no source), not from the table.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from tests.domain.job_files import DAY, LOOKED, handed, job, says
from triage.domain.catalogue import load_catalogue
from triage.domain.job.bench_rules import attempt_refusals, check_refusals, line_refusals, repair_acts
from triage.domain.job.ending import disclosure_text, hold_refusals, return_refusals, sale_refusals
from triage.domain.job.records import Attempt, CheckMade, FoundDamage, LookedInside, Stop, StopResolved
from triage.domain.job.safety_facts import act_refusals, act_reminders, battery_now, liquid_now

C = load_catalogue()
SWOLLEN, WET = FoundDamage("cell-swollen"), FoundDamage("liquid-on-board")
UNSAFE = Stop("the battery is dangerous: make it safe and store it apart", "battery")
SWAPPED = Attempt("cell-swollen", "fixed", "replace-cell")
CLEANED = Attempt("liquid-on-board", "fixed", "clean-board-after-liquid")


@pytest.mark.parametrize(
    ("records", "battery"),
    [
        ([], "sound"),
        ([SWOLLEN, UNSAFE], "bad"),
        ([SWOLLEN, UNSAFE, StopResolved(4, "out, boxed, labelled")], "out-safe"),
        ([SWOLLEN, UNSAFE, StopResolved(4, "out, boxed"), SWAPPED], "replaced"),
        ([FoundDamage("cell-deep-discharged")], "worn"),
        (
            [FoundDamage("cell-swollen", chance=0.5)],
            "sound",
        ),  # it was looked at, and nothing was recorded
    ],
)
def test_the_battery_is_what_was_found_and_mended(records, battery):
    assert battery_now(job("bought", "in-work", *records), C) == battery


def test_a_battery_that_nobody_has_looked_at_is_suspect():
    assert (
        battery_now(job("bought", "taken", intake=replace(LOOKED, battery_looked_at=False)), C) == "suspect"
    )


@pytest.mark.parametrize(
    ("cause", "records", "liquid"),
    [
        ("dropped", [], "none"),
        ("wet", [], "may-be-wet"),
        ("wet", [LookedInside()], "none"),
        ("", [FoundDamage("liquid-mark-dry")], "may-be-wet"),
        ("", [WET], "wet"),
        ("", [WET, LookedInside()], "wet"),
        ("", [WET, replace(CLEANED, outcome="not-fixed")], "wet"),
        ("wet", [WET, CLEANED], "dried"),
        ("", [LookedInside("liquid-under-shield")], "wet"),
    ],
)
def test_liquid_is_there_until_somebody_has_looked_or_cleaned_it_off(cause, records, liquid):
    assert liquid_now(job("bought", "in-work", *records, intake=replace(LOOKED, cause=cause)), C) == liquid


def test_nothing_is_powered_or_passed_while_it_is_wet_and_all_of_it_once_dried():
    powers = Attempt("paired-part-message", "fixed", "authorise-paired-part")
    wet = job("bought", "in-work", WET, FoundDamage("paired-part-message"))
    assert says(attempt_refusals(wet, powers, C), "never powered")
    assert says(line_refusals(wet, "touch-grid", "pass", None, "", C), "never powered to wipe, test or read")
    assert line_refusals(wet, "touch-grid", "fail", None, "", C) == ()
    powering = next(check for check in C.check if {"power", "charge", "bench-supply"} & set(check.acts))
    assert any("wet" in words for words in check_refusals(wet, CheckMade(powering.slug, True), C))
    assert attempt_refusals(wet, CLEANED, C) == ()
    dry = job("bought", "in-work", WET, FoundDamage("paired-part-message"), CLEANED)
    assert attempt_refusals(dry, powers, C) == () == line_refusals(dry, "touch-grid", "pass", None, "", C)


def test_a_wet_unit_is_not_sold_even_for_parts():
    wet = job("bought", "ready", WET)
    told = handed("parts", disclosure_text(wet, C))
    assert any("may be wet" in words for words in sale_refusals(wet, told, "", C))
    dried = job("bought", "ready", WET, CLEANED)
    assert sale_refusals(dried, handed("parts", disclosure_text(dried, C)), "", C) == ()


@pytest.mark.parametrize(
    "repair", [repair for repair in C.repair if "heat" in repair.acts], ids=lambda r: r.slug
)
def test_rework_heat_is_allowed_and_says_that_the_battery_comes_out_first(repair):
    file = job("bought", "in-work", *(FoundDamage(kind) for kind in repair.closes))
    if liquid_now(file, C) == "wet" and "bench-supply" in repair.acts:
        pytest.skip("needs it dry first")
    assert act_refusals(file, repair_acts(repair), C, repair.access) == ()
    assert any("battery out" in words for words in act_reminders(file, repair_acts(repair), C, repair.access))


def test_a_new_battery_comes_out_for_heat_too_and_one_made_safe_is_out_already():
    replaced = job("bought", "in-work", SWOLLEN, UNSAFE, StopResolved(4, "boxed"), SWAPPED)
    assert act_refusals(replaced, ("heat",), C, "shields-off") == ()
    assert act_reminders(replaced, ("heat",), C, "shields-off")
    apart = job("bought", "in-work", SWOLLEN, UNSAFE, StopResolved(4, "boxed"))
    assert (
        act_refusals(apart, ("heat",), C, "shields-off")
        == ()
        == act_reminders(apart, ("heat",), C, "shields-off")
    )
    # With nothing but a bad one, out of the device, it is not powered from its battery.
    assert act_refusals(apart, ("power",), C)


def test_a_bought_unit_is_held_as_long_as_local_rules_want():
    bought, owners = job("bought", "ready"), job("walk-in", "ready")
    assert hold_refusals(bought, DAY, 0) == () == hold_refusals(owners, DAY, 14)
    assert says(
        hold_refusals(bought, DAY + timedelta(days=13), 14),
        "holding period in your settings ends on 04 Dec 2026",
    )
    assert hold_refusals(bought, DAY + timedelta(days=14), 14) == ()


def test_a_worn_battery_comes_out_for_heat_as_a_sound_one_does():
    worn = job("bought", "in-work", FoundDamage("cell-deep-discharged"))
    assert act_refusals(worn, ("heat",), C, "shields-off") == () and act_reminders(
        worn, ("heat",), C, "shields-off"
    )
    assert act_refusals(worn, ("charge",), C) and act_refusals(worn, ("power",), C)


def test_an_owner_gets_nothing_back_as_fixed_around_a_bad_battery_and_is_warned_of_it():
    file = job("walk-in", "in-work", SWOLLEN, UNSAFE)
    fixed = return_refusals(file, handed("downgraded", disclosure_text(file, C)), True, C)
    assert any(
        "dangerous battery cannot be returned as repaired: battery swollen" in words for words in fixed
    )
    silent = return_refusals(file, handed("unfixed"), False, C)
    assert any("add to the written disclosure: battery swollen" in words for words in silent)
    warned = handed("unfixed", disclosure_text(file, C))
    assert "Dangerous, battery swollen: never charge, press or post it." in warned.disclosure
    assert return_refusals(file, warned, False, C) == ()
