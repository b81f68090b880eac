"""What stays broken, and damage that overlaps, by pencil, with the arithmetic beside each.

Figures are those of the paper shop: a middle device sells for 200, for 85 % of that with one function
lost, for 70 % with more; as parts 60, with a broken panel 30; stripping 20, finishing 20, opening 10.
"""

from __future__ import annotations

import pytest

from tests.gold.paper import paper_forecast
from tests.gold.paper_shop import paper_shop
from tests.gold.worked import acts, check, lines, said, step_of, worked
from triage.domain.units.unit import Finding, Ownership, Unit
from triage.policy.problem.normalise import normalise
from triage.reports.wording.left import left_line
from triage.workflows.answers.assess import assess
from triage.workflows.answers.quote import quote_unit

PANEL = ("display-panel-dead", "swap-display")
FLEX = ("sensor-flex-cut", "change-sensor-flex")


def test_a_damage_that_no_repair_is_worth_stays_and_costs_a_grade():
    # The cut flex: 20 minutes + 9 for .5 x (200 - 170) = 15, so nobody tries it: it stays on every
    # finished device. Sale 200 - 30 for it; open 10, display 30 + 40, finish 20: 170 - 100 = 70.
    # Ask 10: 70 - 10 - 2 = 58.
    unit = Unit("sensor", "middle", (Finding("display-panel-dead"), Finding("sensor-flex-cut")))
    answered = worked(unit, {PANEL: (1.0, 30, 30), FLEX: (0.5, 20, 20)}, ask=10)
    check(answered, "take it", 58.0, 0, 60.0, 43.0)
    (left,) = answered.left
    assert (left.kind, left.why) == ("sensor-flex-cut", "not-worth")
    assert (left.chance, left.takes_off) == pytest.approx((1.0, 30.0))
    assert lines(answered)["sale"] == pytest.approx(200.0)
    assert lines(answered)["left unrepaired"] == pytest.approx(-30.0)
    assert left_line(answered) == (
        "Left unrepaired: front sensor flex cut (no repair is worth its cost, €30 off the sale price)."
    )
    # Nobody moves a cut cable over to the new display.
    assert said(step_of(answered, "repair")) == (
        "Replace the display; transfer: earpiece, front camera, face or depth sensor"
    )


def test_a_damage_closed_on_some_paths_only():
    # Antenna 30 + 8 at .9, then camera 15 + 25 at .8: it stays on .2 of the finished devices, and
    # takes 600 - 510 = 90 off each. Sale .9 x 600 = 540, less .9 x .2 x 90 = 16.2.
    unit = Unit("camera", "middle", (Finding("camera-dead"), Finding("antenna-flex-torn")), working_price=600)
    work = {
        ("antenna-flex-torn", "change-antenna-flex"): (0.9, 30, 30),
        ("camera-dead", "change-camera"): (0.8, 15, 15),
    }
    answered = worked(unit, work, ask=100)
    check(answered, "take it", 323.8, 2, 73.5, 398.8)
    (left,) = answered.left
    assert (left.kind, left.why) == ("camera-dead", "some-paths")
    assert (left.chance, left.takes_off) == pytest.approx((0.2, 90.0))
    assert lines(answered)["sale"] == pytest.approx(540.0)
    assert lines(answered)["left unrepaired"] == pytest.approx(-16.2)
    # Only required functions count as working: the antenna is one, the camera is not.
    assert answered.chance_finished == pytest.approx(0.9)


def test_three_that_stay_share_what_the_grade_takes_off():
    # Camera, torch and coil, no repair known here: 200 - 140 = 60 off, 20 each. A suspected one stays
    # where it is there. Antenna 10 + 30 + 8, finish 20: 140 - 68 = 72; ask 10: 60.
    kinds = ("antenna-flex-torn", "camera-dead", "torch-dead", "coil-torn")
    unit = Unit("three", "middle", tuple(map(Finding, kinds)))
    answered = worked(unit, {("antenna-flex-torn", "change-antenna-flex"): (1.0, 30, 30)}, ask=10)
    assert answered.expected_margin == pytest.approx(60.0)
    assert {left.kind: left.why for left in answered.left} == dict.fromkeys(kinds[1:], "no-repair")
    assert [left.takes_off for left in answered.left] == pytest.approx([20.0] * 3)
    assert lines(answered)["left unrepaired"] == pytest.approx(-60.0)


def test_a_bent_board_stays_bent_and_nobody_knows_its_price():
    unit = Unit("board", "middle", (Finding("antenna-flex-torn"), Finding("board-bent")), battery="sound")
    answered = worked(unit, {("antenna-flex-torn", "change-antenna-flex"): (1.0, 30, 30)}, ask=10)
    (left,) = answered.left
    assert (left.kind, left.why, left.takes_off) == ("board-bent", "no-repair", None)
    assert "main board bent (no repair offered, effect on the price not known)" in left_line(answered)


def test_nothing_stays_on_a_device_that_is_never_finished():
    unit = Unit("storage", "middle", (Finding("storage-or-processor-dead"), Finding("camera-dead")))
    work = {("storage-or-processor-dead", "change-storage-or-processor"): (0.1, 150, 150)}
    answered = worked(unit, work, ask=10)
    assert answered.chance_finished == 0.0 and answered.left == () and left_line(answered) == ""


def test_two_overlapping_damages_of_one_part_are_one():
    # A cut sensor flex is why the sensors are lost: one part, one repair, one function lost. Counted
    # twice it would sell at 140; it sells at 170, so all is as above: 170 - 100 - 12 = 58.
    # And what is cut is not transferred: that "repair" would be certain here, in 5 minutes for 30.
    work = {
        PANEL: (1.0, 30, 30),
        FLEX: (0.5, 20, 20),
        ("proximity-sensor-lost", "change-sensor-flex"): (0.5, 20, 20),
        ("proximity-sensor-lost", "transfer-sensor-flex"): (1.0, 5, 5),
    }
    kinds = ("display-panel-dead", "sensor-flex-cut", "proximity-sensor-lost")
    answered = worked(Unit("sensor", "middle", tuple(map(Finding, kinds))), work, ask=10)
    check(answered, "take it", 58.0, 0, 60.0, 43.0)
    assert acts(answered) == ["Replace the display"]
    assert [row.kind for row in answered.findings] == ["display-panel-dead", "sensor-flex-cut"]
    assert (
        "Proximity or light sensor lost is not counted apart: front sensor flex cut, severity 2 of 3, "
        "stands for both." in answered.notes
    )


def test_a_dead_panel_stands_for_its_cracked_glass():
    # Shattered glass on a panel with a line: the panel is the worse and keeps its 1. One display to
    # replace, 10 + 30 + 40 + finish 20 at .95:
    # V = -80 + .95 x 180 + .05 x (30 - 20) = 91.5; ask 15: 74.5; loses .05 -> 1 dot; limit 91.5 - 27 = 64.5.
    findings = (Finding("display-glass-cracked", 3), Finding("display-panel-dead", 1))
    work = {
        PANEL: (0.95, 30, 30),
        ("display-glass-cracked", "swap-display"): (0.95, 30, 30),
        ("display-glass-cracked", "change-display-glass"): (0.9, 50, 50),
    }
    answered = worked(Unit("screen", "middle", findings), work, ask=15)
    check(answered, "take it", 74.5, 1, 60.0, 64.5)
    assert [(row.kind, row.severity) for row in answered.findings] == [("display-panel-dead", 1)]
    assert answered.left == ()


def test_a_suspected_damage_stands_for_nothing():
    catalogue = paper_shop().catalogue
    findings = (Finding("display-glass-cracked"), Finding("display-panel-dead", chance=0.4))
    unit = normalise(Unit("screen", "middle", findings), catalogue)
    assert [finding.kind for finding in unit.findings] == ["display-glass-cracked", "display-panel-dead"]
    assert unit.covered == () and normalise(unit, catalogue) == unit


def test_a_chip_on_a_dead_display_is_not_transferred():
    # Message beside a dead display: the chip is on that display. Only authorising is left, and it
    # fails half the time: sale 170 or 200. Without the dead display the transfer is offered first.
    work = {
        PANEL: (1.0, 30, 30),
        ("paired-part-message", "transfer-paired-chip"): (1.0, 10, 10),
        ("paired-part-message", "authorise-paired-part"): (0.5, 5, 5),
    }
    message = Finding("paired-part-message")
    dead = worked(Unit("paired", "middle", (Finding("display-panel-dead"), message)), work, ask=10)
    assert acts(dead) == ["Replace the display", "Authorise the paired part by software"]
    assert [left.why for left in dead.left] == ["some-paths"]
    alive = worked(Unit("paired", "middle", (message,), battery="absent"), work, ask=10)
    assert "Transfer the paired chip from the old part to the new one" in [
        row.repair for row in alive.findings if row.kind == message.kind
    ]


def test_a_quote_names_what_stays_and_never_moves_a_cut_cable():
    shop = paper_shop()
    unit = Unit(
        "sensor", "middle", (Finding("display-panel-dead"), Finding("sensor-flex-cut")),
        ownership=Ownership(proof_recorded=True),
    )  # fmt: skip
    forecast = paper_forecast(normalise(unit, shop.catalogue), shop.catalogue, {
        PANEL: (1.0, 30, 30), FLEX: (0.5, 20, 20),
    })  # fmt: skip
    offer = quote_unit(unit, shop, "fixed", forecast=forecast).offer
    (flex,) = [line for line in offer.work if not line.included]
    assert "front sensors is cut" in flex.wrong and flex.done.startswith("Left unrepaired")
    assert offer.carried_over == ("front camera", "face or depth sensor")
    told = left_line(assess(unit, shop, walk_in=True, forecast=forecast))
    assert "off what the owner pays, not part of the quote document, whose price is for the rest)" in told


def test_the_bracket_that_is_lost_is_not_carried_to_the_new_housing():
    # Bent frame, bracket gone: whoever swaps the housing has no bracket to move.
    unit = Unit("bent", "middle", (Finding("frame-side-broken"), Finding("brackets-missing")),
                battery="sound", working_price=600)  # fmt: skip
    work = {
        ("frame-side-broken", "swap-housing"): (0.9, 60, 60),
        ("brackets-missing", "refit-brackets"): (1.0, 5, 5),
    }
    answered = worked(unit, work, ask=10)
    swap = next(step for step in answered.steps if step.subject == "swap-housing")
    refit = [step.subject for step in answered.steps if step.kind == "repair"].index("refit-brackets")
    assert ("brackets" in said(swap)) == (refit == 0)
    assert "battery" in said(swap)
