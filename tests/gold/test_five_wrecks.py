"""Five wrecks of real life, each with a practitioner's reasoning first (common practice, no source).

The shop is the shipped demo, whose money is invented: asserted is the side a verdict falls on, the order of
steps and which parts survive, never today's figure. "Good" below is the chance that a part is good.
"""

from __future__ import annotations

from datetime import date

import pytest

from triage.domain.units.unit_file import load_unit
from triage.policy.answer.assessment import Verdict
from triage.workflows.answers.assess import assess
from triage.workflows.shop.shop import open_shop

CLEAR = '[ownership]\nlock = "clear"\nidentity = "agrees"\n'


def found(*damage):
    return "".join(f'[[finding]]\nkind = "{kind}"\nseverity = {severity}\n' for kind, severity in damage)


@pytest.fixture(scope="module")
def shop():
    return open_shop(today=date(2026, 11, 25))


@pytest.fixture
def answered(shop, tmp_path):
    def answer(device, findings, ask, ownership=CLEAR, symptom=""):
        path = tmp_path / "wreck.toml"
        path.write_text(
            f'{symptom}[device]\nname = "wreck"\n{device}\n{ownership}{findings}', encoding="utf-8"
        )
        return assess(load_unit(path, shop.catalogue, shop.prices), shop, ask)

    return answer


def good(answer):
    return {part.part: part.good for part in answer.stripped.parts}


def margin(answer, kind):
    return next(way.margin for way in answer.ways if way.kind == kind)


def test_bent_with_a_bulging_cell_a_torn_flex_and_a_lost_bracket(answered):
    """A frame bent this far comes straight less than half the time, and all repair waits for the cell.

    The bulge has pressed on the display, so it may be gone; the frame is scrap; board and cameras are
    mostly good. It is worth its parts, bought cheaply: never repaired. The cell is made safe before
    anything else, and never sold.
    """
    damage = found(("frame-bent", 3), ("cell-swollen", 2), ("antenna-flex-torn", 2), ("brackets-missing", 1))
    device = 'tier = "upper"\ncause = "bent"\nbattery = "hazard"'
    cheap, dear = answered(device, damage, 10.0), answered(device, damage, 60.0)
    assert (cheap.verdict, dear.verdict) == (Verdict.PARTS, Verdict.LEAVE)
    assert [step.kind for step in cheap.steps] == ["make-safe", "ownership", "strip"]
    assert cheap.first_cautions[0].slug == "damaged-cell"
    assert margin(cheap, "strip") > 0 > margin(cheap, "repair")
    parts = good(cheap)
    assert parts["housing"] < 0.1 < 0.5 < parts["display"] < parts["main-board"] < 1
    assert all(part.part != "battery" for part in cheap.stripped.parts)


def test_no_power_wet_and_nobody_knows_whose_it_is(answered):
    """Nothing can be checked: no number can be read, and the lock only shows once it starts.

    Until then not one part may be sold, so a failed repair leaves nothing. Half of such devices cannot be
    kept. Leave it at any price; if it comes in all the same, nothing wet is powered.
    """
    unknown = '[ownership]\nlock = "cannot-tell"\nidentity = "cannot-read"\nsource = "unknown"\n'
    device = 'tier = "top"\ncause = "wet"\nbattery = "not-seen"'
    answer = answered(device, "", 40.0, unknown, 'symptom = ["no-power"]\n')
    assert answer.verdict is Verdict.LEAVE and answer.limit is None
    assert answer.right.bars_stripping and {way.kind for way in answer.ways} == {"plan", "leave"}
    assert "liquid-no-power" in [caution.slug for caution in answer.first_cautions]
    kinds = [step.kind for step in answer.steps]
    assert kinds.index("ownership") < kinds.index("open") and "strip" not in kinds
    opening = answer.steps[kinds.index("open")]
    assert (
        opening.subject == "wet" and opening.minutes > 12
    )  # disconnected, searched, dried: more than opening
    locked = unknown.replace("cannot-tell", "locked-to-another")
    assert answered(device, "", 1.0, locked, 'symptom = ["no-power"]\n').limit is None


def test_a_dead_display_with_a_paired_chip_and_a_cut_sensor_flex(answered):
    """Three repairs in a row, each of which may fail, and a display at half of what the device brings.

    The dead display brings nothing, all else is good: parts if cheap. With a display at a third of its
    price it is a repair. The message of the paired part stays unless it is paired again: it is named, and
    told to the buyer.
    """
    damage = found(("display-panel-dead", 3), ("sensor-flex-cut", 2), ("paired-part-message", 1))
    device = 'tier = "upper"\ncause = "dropped"\nbattery = "sound"'
    cheap, dear = answered(device, damage, 10.0), answered(device, damage, 80.0)
    assert (cheap.verdict, dear.verdict) == (Verdict.PARTS, Verdict.LEAVE)
    assert margin(cheap, "strip") > margin(cheap, "repair")
    parts = good(cheap)
    assert parts["display"] == 0 and min(parts["main-board"], parts["cameras"], parts["housing"]) > 0.95
    (flip,) = [flip for flip in answered(device, damage, 40.0).flips if flip.part == "display"]
    assert flip.flips_at is not None and flip.flips_at < 74.0


def test_one_that_boots_on_a_bench_supply_with_cell_and_screws_missing(answered, shop):
    """The dear part is known to be good: it boots. What is missing is cheap. Buy it, and repair it.

    A cell has to go in before anything is sold as working, and no battery of its own is there to be bad:
    nothing has to be made safe. Where the screws were lost somebody was inside, so there is a final test
    for what he broke.
    """
    device = 'tier = "upper"\nbattery = "absent"'
    answer = answered(device, found(("screws-missing", 2)), 40.0)
    assert answer.verdict is Verdict.TAKE and answer.chance_finished > 0.8
    repairs = [step.subject for step in answer.steps if step.kind == "repair"]
    assert "replace-cell" in repairs and len(repairs) == 2
    assert "make-safe" not in [step.kind for step in answer.steps]
    assert any(step.final_test for step in answer.steps)
    assert good(answer)["main-board"] > 0.9 and margin(answer, "plan") > margin(answer, "strip") > 0
    before = good(answer)["main-board"]
    proof = '[[check]]\ncheck = "bench-supply-boot-current"\nfound = false\n'
    proven = answered(device, proof + found(("screws-missing", 2)), 40.0)
    assert good(proven)["main-board"] >= before


def test_traces_broken_by_an_earlier_attempt(answered, shop):
    """Micro-soldering behind somebody else's heat: one in four, hours of it, else a board that is scrap.

    A board already damaged is sold to nobody. What is left of a middling device is its display: not worth
    a purchase, nor the hours at its owner's. Decline, and say so.
    """
    device, damage = 'tier = "middle"\nbattery = "sound"', found(("prior-repair", 2), ("via-broken", 3))
    answer = answered(device, damage, 20.0)
    assert answer.verdict is Verdict.LEAVE and margin(answer, "repair") < margin(answer, "strip") < 0
    parts = good(answer)
    assert parts["main-board"] == 0 and parts["display"] > 0.9
    chance = {finding.kind: finding.mean for finding in answer.findings}
    assert chance["via-broken"] < 0.5
