"""Checks, walk-ins and second methods worked by hand first, with the arithmetic beside each.

Figures are those of the paper shop (`paper_shop.py`) and of each unit's work
table: (chance, minutes when it works, minutes when it does not).
"""

from __future__ import annotations

import pytest

from tests.gold.worked import check, if_not, kinds, said, step_of, stop_point, worked
from triage.domain.units.unit import CheckResult, Finding, Ownership, Unit


def test_no_power_of_unknown_cause():
    # open 10, trace 20. Deep-discharged cell (.34): 20 + 20 at 1: 200 - 20 - 40 = 140.
    # Power-key flex (.3): board out 10, 40 + 6 at .9: -56 + .9 x 180 + .1 x 40 = 110.
    # Main-rail short (.26): board out, shields 20, 60 + 5 at .5: -85 + 90 + 20 = 25 < 40: strip.
    # No cause found (.1): strip 40. V = -30 + .34 x 140 + .3 x 110 + .36 x 40 = 65. Ask 30: 33.
    # Loses: short or no cause (.36): -30 + 40 - 32 = -22; flex fails (.03): .39 -> 8 dots, too many.
    # Limit: those must not lose: -30 + 40 - 2 - b >= 0 -> 8.
    # Minutes 30 + .34 x 40 + .3 x 70 + .36 x 20 = 71.8.
    unit = Unit("dead", "middle", symptoms=("no-power",))
    work = {
        ("cell-deep-discharged", "replace-cell"): (1.0, 20, 20),
        ("power-key-flex-cut", "change-power-key-flex"): (0.9, 40, 40),
        ("main-rail-short", "clear-main-rail-short"): (0.5, 60, 60),
    }
    causes = {"no-power": {"cell-deep-discharged": 0.34, "power-key-flex-cut": 0.3, "main-rail-short": 0.26}}
    answered = worked(unit, work, ask=30, causes=causes, checks=("usb-draw-reading",))
    assert answered.expected_margin == pytest.approx(33.0)
    assert (answered.losses_in_20, answered.minutes) == (8, pytest.approx(71.8))
    assert answered.limit == pytest.approx(8.0, abs=0.0051)
    trace = step_of(answered, "trace")
    assert "battery deeply discharged, 7 in 20" in said(trace)
    assert trace.stop_point and "main" in if_not(answered, trace) and "short" in if_not(answered, trace)
    # The two causes that are stripped share a branch (.36); the flex is changed, and then all is as planned.
    stripped, flex = trace.branches
    assert (stripped.chance, flex.chance) == (pytest.approx(0.36), pytest.approx(0.3))
    assert set(stripped.causes) == {"main-rail-short", None} and stripped.end == "stop"
    assert [step.kind for step in stripped.ending] == ["strip"] and flex.causes == ("power-key-flex-cut",)
    assert [step.subject or step.kind for step in flex.steps] == ["board-out", "change-power-key-flex"]
    # A reading at the port tells a short from the rest without opening it.
    assert answered.verdict == "check first"
    assert answered.checks[0].check == "usb-draw-reading"


def test_owners_lock_is_normal_for_a_walk_in():
    # Display 30 + 40 at .8, no fix no fee. Works: q - 20; fails: back together 15, no fee.
    # V = -80 + .8 (q - 20) + .2 x (-15) = .8 q - 99; less 2 consumables: .8 q - 101 >= 25 -> 157.50.
    # Loses when it fails (.2): 4 dots. Minutes 40 + .8 x 20 + .2 x 15 = 59.
    owner = Ownership(lock="locked-to-owner", proof_recorded=True)
    unit = Unit("walk-in", "middle", (Finding("display-panel-dead"),), ownership=owner)
    answered = worked(unit, {("display-panel-dead", "swap-display"): (0.8, 30, 30)}, walk_in=True)
    check(answered, "take it", 25.0, 4, 59.0, 157.5)
    assert stop_point(answered) == "Replace the display: if it fails, stop, reassemble it and return it"
    bought = worked(unit, {("display-panel-dead", "swap-display"): (0.8, 30, 30)}, ask=10)
    assert (bought.verdict, bought.limit) == ("leave it", None)


def test_boot_current_in_hand_lowers_the_hidden_fault():
    # The unit mended before, with a reading in hand: right 8 in 10 and 9 in 10, it found nothing.
    # P(nothing) = .25 x .2 + .75 x .9 = .725; joint .05 / .725 = .0690 (5 in 20 -> 1 in 20).
    # V = -80 + .95 (180 - 170 x .0690) + .5 = 80.3621; ask 15: 63.3621; loses .05 + .95 x .069 = .1155: 2.
    unit = Unit(
        "mended before", "middle", (Finding("prior-repair"), Finding("display-panel-dead")),
        readings=(CheckResult("bench-supply-boot-current", False),),
    )  # fmt: skip
    work = {
        ("display-panel-dead", "swap-display"): (0.95, 30, 30),
        ("joint-cracked", "reball-chip"): (0.5, 90, 90),
    }
    answered = worked(
        unit, work, ask=15, hidden={"joint-cracked": 0.25}, checks=("bench-supply-boot-current",)
    )
    joint = 0.05 / 0.725
    check(answered, "take it", -80 + 0.95 * (180 - 170 * joint) + 0.5 - 17, 2, 60.0, 53.36)
    fault = next(f for f in answered.findings if f.kind == "joint-cracked")
    assert (fault.before, fault.presence) == pytest.approx((0.25, joint), abs=1e-12)


def test_boot_current_is_worth_making_before_the_display():
    # Joint 7 in 20. open 10, reading 5. Positive (.28 + .065 = .345): joint .81, strip 10.
    # Nothing (.655): joint .07/.655 = .1069: -70 + .95 (180 - 170 x .1069) + .5 = 84.2405.
    # V = -15 + .345 x 10 + .655 x 84.2405 = 43.6275 (without it 34.975). Ask 5: 36.6275.
    # Loses at the positive reading whatever is paid: .345 is 7 of 20 -> no price is low enough.
    unit = Unit("mended before", "middle", (Finding("prior-repair"), Finding("display-panel-dead")))
    work = {
        ("display-panel-dead", "swap-display"): (0.95, 30, 30),
        ("joint-cracked", "reball-chip"): (0.5, 90, 90),
    }
    answered = worked(
        unit, work, ask=5, hidden={"joint-cracked": 0.35}, checks=("bench-supply-boot-current",)
    )
    joint = 0.07 / 0.655
    value = -15 + 0.345 * 10 + 0.655 * (-70 + 0.95 * (180 - 170 * joint) + 0.5)
    assert answered.expected_margin == pytest.approx(value - 7, abs=1e-9)
    assert (answered.verdict, answered.limit) == ("leave it", None)
    assert kinds(answered)[1:4] == ["open", "check", "repair"]
    reading = step_of(answered, "check")
    assert reading.stop_point and if_not(answered, reading).endswith("(7 in 20): stop and strip it for parts")


def test_second_method_after_the_first_failed():
    # Charge board 20 + 15 at .9 with the board in; re-solder 40 + 8, board out 10, at .7 fresh and .5 after.
    # Solder is rework heat: battery out first, 10.
    # Board first: -45 + .9 x 180 + .1 x max(40, -68 + .5 x 180 + .5 x 40 = 42) = 121.2.
    # Solder first: -78 + .7 x 180 + .3 x max(40, -35 + .6 x 180 + .4 x 40 = 89) = 74.7.
    # Ask 60: 59.2. Loses when both fail (.05): 1. Minutes 30 + .9 x 20 + .1 x (60 + 20) = 56.
    # Limit 121.2 - 2 - 25 = 94.20.
    unit = Unit("port", "middle", (Finding("port-pins-damaged"),))
    work = {
        ("port-pins-damaged", "resolder-port"): (0.7, 40, 40),
        ("port-pins-damaged", "swap-charge-board"): (0.9, 20, 20),
    }
    after = {
        ("port-pins-damaged", "resolder-port"): {"swap-charge-board": 0.5},
        ("port-pins-damaged", "swap-charge-board"): {"resolder-port": 0.6},
    }
    answered = worked(unit, work, ask=60, after=after)
    check(answered, "take it", 59.2, 1, 56.0, 94.2)
    (first,) = (step for step in answered.steps if step.kind == "repair")
    assert not first.stop_point and if_not(answered, first) in (
        "solder in a new charge port", "replace the charge board",
    )  # fmt: skip


def test_data_is_saved_before_heat_on_the_board():
    # Joint 90 + 3 at .75, shields off 30, battery out 10: V = -133 + .75 (q - 20) + .25 x (-15)
    # = .75 q - 151.75; less 2: 24.9975 at 238.33 is too little, 25.005 at 238.34 is enough. Loses .25: 5.
    # Minutes 40 + 90 + .75 x 20 + .25 x 15 = 148.75.
    unit = Unit(
        "photos", "middle", (Finding("joint-cracked"),), data_wanted=True, working_price=400,
        ownership=Ownership(proof_recorded=True),
    )  # fmt: skip
    answered = worked(unit, {("joint-cracked", "reball-chip"): (0.75, 90, 90)}, walk_in=True)
    check(answered, "take it", 25.005, 5, 148.75, 238.34)
    order = kinds(answered)
    assert order.index("save-data") < order.index("repair")


@pytest.mark.parametrize(
    ("extra_work", "by_hand"),
    [
        # Display 30 + 40 at .95; cracked joint (1 in 4) shows at the final test, 20 + battery out 10 + 45 + 3
        # at .9. Asked and allowed: -80 + .95 (.75 (q - 20) + .25 (.9 q - 97.5)) - .75 - 2 = 25.
        ("ask", (25 + 2 + 80 + 0.75 + 0.95 * (0.75 * 20 + 0.25 * 97.5)) / (0.95 * (0.75 + 0.25 * 0.9))),
        # Refused beforehand: it goes back: -80 + .95 (.75 (q - 20) - .25 x 15) - .75 - 2 = 25.
        ("refused", (25 + 2 + 80 + 0.75 + 0.95 * (0.75 * 20 + 0.25 * 15)) / (0.95 * 0.75)),
    ],
)
def test_extra_work_refused_costs_the_owner_more(extra_work, by_hand):
    unit = Unit(
        "walk-in", "middle", (Finding("prior-repair"), Finding("display-panel-dead")),
        extra_work=extra_work, ownership=Ownership(proof_recorded=True),
    )  # fmt: skip
    work = {
        ("display-panel-dead", "swap-display"): (0.95, 30, 30),
        ("joint-cracked", "reball-chip"): (0.9, 45, 45),
    }
    answered = worked(unit, work, walk_in=True, hidden={"joint-cracked": 0.25})
    assert answered.limit == pytest.approx(by_hand, abs=0.0101)
    assert answered.losses_in_20 == 6


def test_a_suspected_finding_is_settled_on_opening():
    # Cell worn 20 + 20 at 1. Antenna suspected 8 in 20, 30 + 8 at .9: there, -38 + .9 x 140 + 4 = 92;
    # not there -40 + 180 = 140. V = -10 + .4 x 92 + .6 x 140 = 110.8. Ask 60: 48.8. Loses .04: 1.
    # Minutes 10 + .4 (30 + .9 x 40 + .1 x 20) + .6 x 40 = 61.2. Limit 83.80.
    unit = Unit("suspected", "middle", (Finding("cell-worn"), Finding("antenna-flex-torn", chance=0.4)))
    work = {
        ("cell-worn", "replace-cell"): (1.0, 20, 20),
        ("antenna-flex-torn", "change-antenna-flex"): (0.9, 30, 30),
    }
    answered = worked(unit, work, ask=60)
    check(answered, "take it", 48.8, 1, 61.2, 83.8)
    assert "if found (8 in 20)" in if_not(answered, step_of(answered, "look"))


def test_a_symptom_that_a_seen_finding_explains_is_not_traced():
    # No picture, and the panel is seen dead: V = -80 + .95 x 180 + .05 x 10 = 91.5; ask 30: 59.5.
    unit = Unit("dark", "middle", (Finding("display-panel-dead"),), symptoms=("no-picture",))
    work = {("display-panel-dead", "swap-display"): (0.95, 30, 30)}
    answered = worked(unit, work, ask=30, causes={"no-picture": {"display-panel-dead": 0.6}})
    check(answered, "take it", 59.5, 1, 60.0, 64.5)
    assert "trace" not in kinds(answered)
