"""Steps in words: what each kind of step says, and what is looked at first."""

from dataclasses import replace

from tests.reports.one_answer import one_answer
from triage.domain.catalogue import load_catalogue
from triage.policy.answer.assessment import Branch, BranchEnd, Cause, Otherwise, PlanStep, Then
from triage.reports.wording.plan import (
    first_check_words,
    otherwise_words,
    short_words,
    step_words,
    stop_words,
)
from triage.reports.wording.step import step_figures

CATALOGUE = load_catalogue()
LOOK = PlanStep("look", "joint-cracked", chance=0.9, otherwise=Otherwise(Then.FINISH, chance=0.1))
CHECK = PlanStep(
    "check", "bench-supply-boot-current", found=False, otherwise=Otherwise(Then.STOP, chance=0.35)
)
TRACE = PlanStep(
    "trace",
    "no-picture",
    otherwise=Otherwise(Then.REPAIR_CAUSE, stops_for=("main-rail-short", None)),
    stop_point=True,
    cause="display-panel-dead",
    causes=(Cause("display-panel-dead", 0.6), Cause("main-rail-short", 0.3), Cause(None, 0.1)),
)


def first(*steps):
    return first_check_words(one_answer(checks=(), steps=steps), CATALOGUE)


def test_the_first_check_is_said_whatever_the_plan():
    steps = one_answer().steps
    assert first(*steps, LOOK, CHECK) == "chip joint cracked"
    assert first(CHECK, LOOK) == CATALOGUE.checks["bench-supply-boot-current"].name
    assert first(replace(LOOK, final_test=True)) == "Test before closing for: chip joint cracked"
    assert first(*steps) == "ownership and activation lock; no other check is worth its cost"
    unsafe = first(PlanStep("make-safe"), *steps)
    assert unsafe.startswith("make the battery safe; then")
    assert first() == "ownership and activation lock; do nothing else until both are clear"


def test_a_look_says_by_itself_when_its_otherwise_holds():
    assert step_words(LOOK, CATALOGUE) == "Look for: chip joint cracked"
    assert otherwise_words(LOOK, CATALOGUE, "buy") == "If found (2 in 20): go on"
    assert step_figures(LOOK) == ""


def test_a_look_that_likely_finds_it_says_so_and_its_stop_point_does_not():
    found = replace(LOOK, found=True, stop_point=True, otherwise=Otherwise(Then.STOP, chance=0.7))
    assert step_words(found, CATALOGUE) == "Look for: chip joint cracked; likely found"
    assert stop_words(one_answer(steps=(found,)), CATALOGUE) == (
        "chip joint cracked: if found (14 in 20): stop and strip it for parts"
    )


def test_a_trace_with_branches_leaves_the_other_causes_to_them():
    told = replace(TRACE, branches=(Branch(0.4, BranchEnd.STOP),))
    assert step_words(told, CATALOGUE).endswith(
        ": most likely display panel dead or bleeding, 12 in 20 at this step"
    )


def test_parts_to_transfer_can_be_left_out():
    housing = PlanStep("repair", "swap-housing", moves=("battery", "brackets"))
    assert step_words(housing, CATALOGUE, carried=False) == CATALOGUE.repairs["swap-housing"].name
    assert step_words(housing, CATALOGUE).endswith("; transfer: battery, brackets")
    # What a repair usually moves is not named where it is damaged: the step says what it moves.
    assert "transfer: " not in step_words(PlanStep("repair", "swap-housing"), CATALOGUE)
    assert short_words(TRACE, CATALOGUE) == f'Find the cause of "{CATALOGUE.symptoms["no-picture"].name}"'
    assert short_words(CHECK, CATALOGUE) == CATALOGUE.checks[CHECK.subject].name


def test_what_follows_a_repair_that_failed_is_said_as_its_owner_would_hear_it():
    _, opening, flex, display, _ = one_answer().steps
    assert otherwise_words(opening, CATALOGUE, "buy") == ""
    assert otherwise_words(flex, CATALOGUE, "buy") == "If it fails: stop and strip it for parts"
    assert otherwise_words(flex, CATALOGUE, "walk-in") == "If it fails: stop, reassemble it and return it"
    said = otherwise_words(display, CATALOGUE, "buy")
    assert said == "If it fails: replace the housing and transfer all parts"
    lost = replace(flex, otherwise=Otherwise(Then.GO_ON))
    assert otherwise_words(lost, CATALOGUE, "buy") == "If it fails: go on; it sells at a lower grade"


def test_a_check_says_its_likelier_result_and_what_the_other_means():
    positive, negative = CATALOGUE.checks[CHECK.subject].result_words
    assert step_words(CHECK, CATALOGUE).endswith(f"; likely result: {negative}")
    said = otherwise_words(CHECK, CATALOGUE, "buy")
    assert said == f"If the result is {positive} (7 in 20): stop and strip it for parts"


def test_a_trace_names_the_causes_that_mean_stopping():
    short, dead = (CATALOGUE.kinds[kind].name for kind in ("main-rail-short", "display-panel-dead"))
    symptom = CATALOGUE.symptoms["no-picture"].name
    assert step_words(TRACE, CATALOGUE) == (
        f'Find the cause of "{symptom}" (chances at this step): '
        f"{dead} 12 in 20, {short} 6 in 20, no cause found 2 in 20. "
        f"The next steps are for {dead}"
    )
    then = f"repair that instead; {short}, no cause found: stop and strip it for parts"
    assert otherwise_words(TRACE, CATALOGUE, "buy") == f"Any other cause: {then}"
    assert stop_words(one_answer(steps=(TRACE,)), CATALOGUE) == (
        f'Find the cause of "{symptom}". Any other cause: {then}'
    )


def test_the_stop_point_is_said_whatever_the_plan():
    assert stop_words(one_answer(), CATALOGUE) == (
        "Replace the antenna flex: if it fails, stop and strip it for parts"
    )
    assert stop_words(one_answer(steps=()), CATALOGUE) == "do not start"
    _, _, _, display, _ = one_answer().steps
    assert stop_words(one_answer(steps=(display,)), CATALOGUE) == "none; if a step fails, take the next one"
    leaving = replace(display, branches=(Branch(0.2, BranchEnd.STOP, steps=(display,)),))
    assert stop_words(one_answer(steps=(display, leaving)), CATALOGUE) == ("in a branch after step 2")
    within = replace(
        display, branches=(Branch(0.2, BranchEnd.REJOIN, steps=(replace(display, stop_point=True),)),)
    )
    assert stop_words(one_answer(steps=(within, leaving)), CATALOGUE) == (
        "in a branch after step 1 and after step 2"
    )
    unsaid = replace(display, branches=(Branch(0.2, BranchEnd.UNTOLD),))
    assert stop_words(one_answer(steps=(unsaid,)), CATALOGUE) == "none on the likely path"
    at_once = one_answer(stops_at_once=True)
    assert stop_words(at_once, CATALOGUE) == "before any repair; strip it for parts"
    assert (
        stop_words(replace(at_once, limit=None), CATALOGUE)
        == "before any repair; no repair is worth its cost"
    )
    assert stop_words(replace(at_once, route="walk-in"), CATALOGUE) == (
        "before any repair; return it unrepaired"
    )
