"""Branches in words: when one is taken, how likely it is, where it leads."""

from __future__ import annotations

import pytest

from triage.domain.catalogue import load_catalogue
from triage.policy.answer.assessment import Branch, BranchEnd, Otherwise, PlanStep, Then
from triage.reports.wording.branch import branch_figures, condition_words, end_words, ending_minutes

CATALOGUE = load_catalogue()
REPAIR = PlanStep("repair", "change-antenna-flex", chance=0.8, otherwise=Otherwise(Then.STOP))
LOOK = PlanStep("look", "joint-cracked", found=False)
CHECK = PlanStep("check", "bench-supply-boot-current", found=False)
TRACE = PlanStep("trace", "no-picture", cause="display-panel-dead")


def branch(end=BranchEnd.STOP, **more):
    return Branch(0.2, end, **more)


@pytest.mark.parametrize(
    ("step", "taken", "words"),
    [
        (REPAIR, branch(), "If it fails"),
        (LOOK, branch(found=True), "If found"),
        (LOOK, branch(found=False), "If not found"),
        (CHECK, branch(found=True), "If the result is abnormal boot current"),
        (TRACE, branch(causes=("joint-cracked",)), "If the cause is chip joint cracked"),
        (TRACE, branch(causes=(None,)), "If no cause is found"),
        (
            TRACE,
            branch(causes=("joint-cracked", "main-rail-short", None)),
            "If the cause is chip joint cracked or short on the main rail, or none is found",
        ),
        (LOOK, branch(found=True, causes=("cell-bent",)), "If it is battery bent or dented"),
    ],
)
def test_the_condition_names_the_result(step, taken, words):
    assert condition_words(taken, step, CATALOGUE) == words


def test_where_a_branch_leads():
    assert end_words(branch(), REPAIR, "buy") == "stop and strip it for parts"
    assert end_words(branch(), REPAIR, "walk-in") == "stop, reassemble it and return it"
    assert end_words(branch(BranchEnd.FINISH), CHECK, "buy") == "close it, check it and sell it"
    assert end_words(branch(BranchEnd.FINISH), CHECK, "walk-in") == "close it, check it and return it"
    assert end_words(branch(BranchEnd.REJOIN, rejoins=7), LOOK, "buy") == "go on with step 7"
    assert end_words(branch(BranchEnd.UNTOLD), LOOK, "buy") == "enter the result to plan the rest"


@pytest.mark.parametrize("then", [Then.GO_ON, Then.FINISH])
def test_a_repair_that_failed_for_good_is_said_to_cost_the_grade(then):
    lost = PlanStep("repair", "tidy-housing", chance=0.8, otherwise=Otherwise(then))
    on = branch(BranchEnd.REJOIN, rejoins=6)
    assert end_words(on, lost, "buy") == "go on with step 6; it sells at a lower grade"
    assert end_words(on, lost, "walk-in") == "go on with step 6; that repair is not charged"
    again = branch(BranchEnd.REJOIN, rejoins=6, steps=(REPAIR,))
    assert end_words(again, lost, "buy") == "go on with step 6"


def test_figures_are_the_chance_and_the_minutes_that_no_line_says():
    strip = PlanStep("strip", minutes=25.0)
    assert branch_figures(branch(ending=(strip,))) == "25 min, 4 in 20"
    with_steps = branch(ending=(strip,), steps=(REPAIR,))
    assert (branch_figures(with_steps), ending_minutes(with_steps)) == ("4 in 20", "25 min")
    assert branch_figures(branch(BranchEnd.REJOIN, rejoins=2)) == "4 in 20"
