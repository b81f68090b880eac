"""The answer in the terminal: one screen of 80 by 40, or all of it; each caution once in full."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import date

import pytest
from rich.console import Console

from tests.reports.one_answer import one_answer
from triage.domain.catalogue import load_catalogue
from triage.domain.units.unit import Finding
from triage.domain.units.unit_file import load_unit
from triage.policy.answer.assessment import Branch, BranchEnd, Otherwise, PlanStep, Then
from triage.reports.terminal.answer import print_screen, print_whole
from triage.reports.wording.cautions import whole_words
from triage.shipped import shipped
from triage.workflows.answers.assess import assess
from triage.workflows.shop.shop import open_shop

CATALOGUE = load_catalogue()
DEVICES = ("dropped-console", "harbour-tablet", "rain-handset")
ASKED = (0.0, 30.0, 40.0, 85.0, 200.0, None)
WIDTH, HEIGHT = 80, 40


def printed(show, assessment, width=WIDTH):
    console = Console(file=io.StringIO(), width=width, highlight=False)
    show(assessment, CATALOGUE, console, ("prices",))
    return console.file.getvalue()


def flat(text):
    """Words without line breaks, indents and figures at the edge."""
    return " ".join(text.split())


@pytest.fixture(scope="module")
def shop():
    return open_shop(today=date(2026, 11, 25))


@pytest.fixture(scope="module")
def answers(shop):
    found = {}
    for device in DEVICES:
        unit = load_unit(shipped(f"synthetic_cases/devices/{device}.toml"), shop.catalogue, shop.prices)
        for ask in ASKED:
            found[device, ask] = assess(unit, shop, ask, ask is None)
    return found


def must_be_said(assessment):
    """Cautions of every act that is planned, branches as well, that no answer may leave out."""
    steps = list(assessment.steps_now)
    for step in assessment.steps_now:
        for branch in step.branches:
            steps += [*branch.steps, *branch.ending]
    first = {caution.slug for caution in assessment.first_cautions}
    said = [c for step in steps for c in step.cautions if c.always or c.slug in first]
    return {caution.slug: caution for caution in (*assessment.first_cautions, *said)}.values()


@pytest.mark.parametrize("device", DEVICES)
@pytest.mark.parametrize("ask", ASKED)
def test_the_answer_fits_one_screen(answers, device, ask):
    text = printed(print_screen, answers[device, ask])
    lines = text.splitlines()
    assert len(lines) < HEIGHT and max(map(len, lines)) <= WIDTH
    assert not any(line != line.rstrip() for line in lines)
    assert "--full" in lines[-1]


@pytest.mark.parametrize("device", DEVICES)
@pytest.mark.parametrize("ask", ASKED)
@pytest.mark.parametrize("show", [print_screen, print_whole])
def test_what_must_be_said_is_said_in_full_once_and_named_at_each_act(answers, device, ask, show):
    assessment = answers[device, ask]
    text = flat(printed(show, assessment))
    for caution in must_be_said(assessment):
        assert text.count(whole_words(caution)) == 1, caution.slug
    for number, step in enumerate(assessment.steps_now, start=1):
        for caution in (c for c in step.cautions if c.always):
            assert named(printed(show, assessment), caution, number), (caution.slug, number)


def named(text, caution, number):
    """Whether a caution stands below a step, or the step in the list of the steps that it is for."""
    at = text.index(f"\n{number:>2}. ") if f"\n{number:>2}. " in text else text.index(f"\n{number:>2}-")
    rest = text[at + 1 :]
    ends = [place for later in range(number + 1, 30) if (place := rest.find(f"\n{later:>2}")) > 0]
    own = flat(rest[: min(ends, default=len(rest))])
    _, found, after = flat(text).rpartition(f"{caution.title}: step")
    listed = after.split(";")[0].split("Invented")[0]
    return caution.title in own or (found and f" {number}" in listed.replace(",", ""))


@pytest.mark.parametrize("device", DEVICES)
def test_the_whole_answer_says_every_caution_once(answers, device):
    for ask in ASKED:
        assessment = answers[device, ask]
        text = flat(printed(print_whole, assessment))
        for step in assessment.steps_now:
            for caution in step.cautions:
                assert text.count(whole_words(caution)) == 1


def wet_and_suspect(shop, battery, name="handset out of the rain"):
    """An owner's handset worth repairing: liquid in it, data wanted, a battery nobody should trust."""
    unit = load_unit(shipped("synthetic_cases/devices/rain-handset.toml"), shop.catalogue, shop.prices)
    port = (Finding("port-pins-damaged", 3),)
    changes = {"battery": battery, "data_wanted": True, "working_price": 1500.0, "findings": port}
    return assess(replace(unit, name=name, **changes), shop, walk_in=True)


@pytest.mark.parametrize("battery", ["sound", "suspect", "hazard", "reacting"])
def test_a_hostile_device_fits_the_screen_with_all_that_must_be_said(shop, battery):
    assessment = wet_and_suspect(shop, battery)
    assert len(must_be_said(assessment)) >= 2
    text = printed(print_screen, assessment)
    assert len(text.splitlines()) < HEIGHT and max(map(len, text.splitlines())) <= WIDTH
    for caution in must_be_said(assessment):
        assert flat(text).count(whole_words(caution)) == 1, caution.slug


def test_where_the_screen_is_too_small_nothing_that_must_be_said_gives_way(shop):
    assessment = wet_and_suspect(shop, "suspect", name="handset " * 60)
    text = printed(print_screen, assessment)
    assert len(text.splitlines()) >= HEIGHT and len(must_be_said(assessment)) == 5
    for caution in must_be_said(assessment):
        assert flat(text).count(whole_words(caution)) == 1, caution.slug
    assert flat(text).count("STOP POINT") >= 1 and "If it fails" not in flat(text.split("Plan:")[1])
    assert "Stop point:" in text and "Expected margin" in text and "Lowest quote" in text


def branching():
    """A repair with two ways on, and a stop point, by hand."""
    later = PlanStep("repair", "swap-housing", 20.0, 0.6, Otherwise(Then.STOP), True)
    strip = PlanStep("strip", minutes=25.0)
    steps = (
        PlanStep("open", minutes=12.0),
        PlanStep(
            "repair", "swap-display", 18.0, 0.85, Otherwise(Then.REPAIR, "swap-housing"),
            branches=(Branch(0.15, BranchEnd.REJOIN, steps=(later,), rejoins=4),),
        ),
        PlanStep(
            "repair", "change-antenna-flex", 25.0, 0.5, Otherwise(Then.STOP), True,
            branches=(Branch(0.5, BranchEnd.STOP, ending=(strip,)),),
        ),
        PlanStep("verify", minutes=20.0),
    )  # fmt: skip
    return one_answer(steps=steps, first_cautions=(), checks=())


def test_the_plan_is_a_path_with_its_branches_indented_and_figures_at_the_right_edge():
    text = printed(print_screen, branching(), width=60)
    assert text[text.index(" 1. ") : text.index("Invented")].splitlines() == [
        " 1. Open the device and disconnect the battery        12 min",
        " 2. Replace the display               18 min, works 17 in 20",
        "    If it fails:                                     3 in 20",
        "        - Replace the housing and     20 min, works 12 in 20",
        "          transfer all parts",
        "          STOP POINT: If it fails: stop and strip it for",
        "          parts",
        "        - Go on with step 4",
        " 3. Replace the antenna flex          25 min, works 10 in 20",
        "    STOP POINT: If it fails: stop and       25 min, 10 in 20",
        "    strip it for parts",
        " 4. Do the final check                                20 min",
    ]
