"""Cautions in an answer: whole once, then named with their place."""

from __future__ import annotations

from triage.domain.catalogue import load_catalogue
from triage.policy.answer.assessment import Branch, BranchEnd, PlanStep
from triage.reports.wording.cautions import CautionsSaid, before_words, first_places, whole_words

CAUTIONS = load_catalogue().cautions
BATTERY, RIGHT, WET, STATIC = (
    CAUTIONS[slug] for slug in ("damaged-cell", "ownership-first", "liquid-no-power", "static")
)


def test_a_caution_is_whole_once_and_then_has_its_place():
    said = CautionsSaid((BATTERY,))
    first = said.at(2, (STATIC, BATTERY, STATIC))
    assert first.whole == (STATIC,) and first.before == ((BATTERY, 0),)
    later = said.at(5, (STATIC, BATTERY))
    assert later.whole == () and before_words(later.before) == (
        f"{STATIC.title} (see step 2); {BATTERY.title} (see above)"
    )
    assert whole_words(STATIC).startswith("Static. Strap and mat on")


def test_what_stands_above_can_be_whole_at_its_step():
    said = CautionsSaid((BATTERY, RIGHT), at_step=("damaged-cell",))
    found = said.at(1, (RIGHT, BATTERY))
    assert found.whole == (BATTERY,) and found.before == ((RIGHT, 0),)


def test_battery_liquid_and_rights_must_be_said():
    dry, wet = CautionsSaid((RIGHT,)), CautionsSaid((WET, RIGHT))
    assert dry.must_be_said(BATTERY) and dry.must_be_said(RIGHT)
    assert wet.must_be_said(WET) and not dry.must_be_said(WET) and not wet.must_be_said(STATIC)


def test_the_first_place_counts_branches_and_what_closes_them():
    strip = PlanStep("strip", cautions=(BATTERY,))
    steps = (
        PlanStep("ownership", cautions=(RIGHT,)),
        PlanStep("repair", "swap-display", branches=(Branch(0.1, BranchEnd.STOP, ending=(strip,)),)),
        PlanStep("open", cautions=(STATIC, BATTERY)),
    )
    assert first_places(steps) == {"ownership-first": 1, "damaged-cell": 2, "static": 3}
