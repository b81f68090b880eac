import io
import json
from dataclasses import replace

import pytest
from rich.console import Console

from tests.reports.one_answer import one_answer
from triage.domain.catalogue import load_catalogue
from triage.domain.counts import in_twenty
from triage.policy.answer.assessment import Branch, BranchEnd, PartFlip, Verdict
from triage.policy.pricing.sensitivity import Swing
from triage.reports.json_output.answer import as_json, assessment_object
from triage.reports.terminal.answer import print_whole
from triage.reports.terminal.lines import printable
from triage.reports.wording.step import (
    behind_words,
    days_words,
    flip_lines,
    limit_words,
    plan_words,
    planned_words,
    presence_words,
    spread_words,
    step_figures,
    swing_words,
)


def printed(assessment, invented=(), width=80):
    console = Console(file=io.StringIO(), width=width, highlight=False)
    print_whole(assessment, load_catalogue(), console, invented)
    return console.file.getvalue()


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        (0.0, "0 in 20"),
        (0.001, "less than 1 in 20"),
        (0.05, "1 in 20"),
        (0.85, "17 in 20"),
        (0.97, "19 in 20"),
        (0.999, "more than 19 in 20"),
        (1.0, "20 in 20"),
    ],
)
def test_only_what_is_certain_is_said_to_be(chance, words):
    assert in_twenty(chance) == words


def test_the_verdict_comes_first_and_the_cautions_before_the_money():
    text = printed(one_answer())
    places = [
        text.index(words)
        for words in (
            "BUY",
            "Damaged battery",
            "Highest price: €71.25",
            "First check: Look along the frame (3 min); then decide",
            "Stop point:",
            "Expected margin €48.25",
        )
    ]
    assert places == sorted(places) and text.startswith("+ BUY")


def test_parts_and_final_checks_are_at_their_steps():
    text = printed(one_answer(), width=200)
    assert "part: display" in text and "€74.00" in text
    assert "refurbished panel, arrives in 2 to 3 days, price not confirmed" in text
    assert "function test: open-circuit battery voltage, and label" in text


def test_chances_name_the_jobs_behind_them():
    text = printed(one_answer(), width=200)
    assert "19 in 20, from 46 past attempts, 44 repaired\n" in text
    rarer = replace(one_answer().findings[0], fixed=40)
    text = printed(one_answer(findings=(rarer,)), width=200)
    assert "from 46 past attempts, 40 repaired (17 in 20)\n" in text
    known = replace(rarer, why=("severity", "related"))
    text = printed(one_answer(findings=(known,)), width=200)
    assert "40 repaired (17 in 20; higher because of its severity and similar damage)\n" in text
    later = replace(known, planned=0.99)
    assert behind_words(later).endswith("because of its severity, similar damage and the steps before it)")
    # What makes it higher alone does not make it lower in the plan.
    assert behind_words(replace(known, planned=0.75)).endswith(
        "(17 in 20; lower because of the steps before it)"
    )
    belief = replace(one_answer().findings[0], attempts=0, fixed=0, prior_only=True)
    assert "19 in 20, from the assumption only" in printed(one_answer(findings=(belief,)), width=200)


def test_invented_figures_are_said_to_be():
    assert "Invented demo figures" not in printed(one_answer())
    assert "Invented demo figures used: prices." in printed(one_answer(), ("prices",))


def test_a_refused_device_has_no_money_and_no_plan():
    refused = one_answer(
        verdict=Verdict.LEAVE, limit=None, expected_margin=None, losses_in_20=None, dots=(), fine_dots=(),
        lines=(), steps=(), margin_per_hour=None, flips=(), checks=(), sentence="Do not buy it.",
    )  # fmt: skip
    text = printed(refused)
    assert "x DECLINE" in text and "Highest price: nothing" in text
    assert "Plan" not in text and "Expected margin" not in text


def test_an_owner_s_device_gets_a_lowest_quote():
    assert limit_words(one_answer(route="walk-in", limit=None)) == ("Lowest quote", "no price")
    assert limit_words(one_answer(route="walk-in")) == ("Lowest quote", "€71.25")


def test_words_from_a_user_do_not_steer_the_terminal():
    assert printable("a\x1b[31mred\x07\n") == "a�[31mred��"
    unit = replace(one_answer().unit, name="[bold]x[/bold]\x1b[2J")
    text = printed(one_answer(unit=unit))
    assert "[bold]x[/bold]�[2J" in text and "\x1b" not in text


def test_days_do_not_pretend_to_a_range():
    assert days_words(0.0, 0.0) == "less than a day"
    assert days_words(1.0, 1.0) == "1 day"
    assert days_words(2.0, 3.0) == "2 to 3 days"


def test_what_checks_said_is_shown_beside_what_was_thought_before():
    hidden = replace(one_answer().findings[1], presence=0.3, before=0.1)
    assert presence_words(hidden) == "hidden fault, present 6 in 20 (was 2 in 20 before the checks)"
    assert presence_words(replace(hidden, before=0.3)) == "hidden fault, present 6 in 20"


def test_a_chance_that_the_plan_does_not_use_is_marked():
    told, catalogue = one_answer(), load_catalogue()
    glass, board = told.findings
    assert planned_words(glass, told, catalogue) == ""  # the display is replaced
    assert planned_words(replace(glass, kind="camera-dead"), told, catalogue) == "; not repaired in this plan"
    untold = replace(told.steps[3], branches=(Branch(0.1, BranchEnd.UNTOLD),))
    assert planned_words(replace(glass, kind="camera-dead"), one_answer(steps=(untold,)), catalogue) == ""
    assert planned_words(board, one_answer(steps=told.steps[:2]), catalogue) == ""  # nothing is repaired


def test_the_worst_cases_and_what_the_spread_is_made_of():
    words = spread_words(one_answer(shortfall=-75.0, share_not_known=0.25))
    assert "worst 2 in 20 average −€75" in words and "25 % of the variance is from limited data" in words
    assert spread_words(one_answer()) == ""


def test_a_margin_beside_no_price_is_said_to_be_for_one():
    text = printed(one_answer(price=None, limit=None, valued_at=0.0))
    assert "Expected margin at €0.00: €48.25; risk of loss 4 in 20" in text
    assert "Expected margin €48.25; risk of loss 4 in 20" in printed(one_answer(valued_at=60.0))


def test_the_plan_in_one_line():
    assert plan_words(one_answer()) == (
        "Mean bench time 1 h 35 min; ends up working 16 in 20; ready in 2 to 3 days."
    )
    assert "ready" not in plan_words(one_answer(ready_days=(0.0, 0.0)))


def test_a_certain_step_shows_minutes_alone():
    steps = one_answer().steps
    assert step_figures(steps[1]) == "12 min"
    assert step_figures(steps[0]) == ""


def test_part_prices_are_named_where_they_change_the_verdict_or_are_not_confirmed():
    (line,) = flip_lines(one_answer(), load_catalogue())
    assert line.endswith("a price above €112.50 would change the verdict (price now €74.00, not confirmed)")
    cheaper = one_answer(flips=(PartFlip("display", 74.0, 55.0, True),))
    (line,) = flip_lines(cheaper, load_catalogue())
    assert line.endswith("a price of €55.00 or less would change the verdict (price now €74.00)")


def test_a_turning_point_is_said_in_the_input_s_own_unit():
    chance = Swing("straighten the frame", "chance", 0.85, 0.7, 0.95, 1.0, 9.0, 0.6)
    assert swing_words(chance) == (
        "straighten the frame: a chance of 12 in 20 or less would change the verdict (now 17 in 20)"
    )
    sale = Swing("sale price", "times", 1.0, 0.75, 1.35, 1.0, 9.0, 0.9)
    assert swing_words(sale) == "sale price: 0.90 times today's or less would change the verdict"
    assert "no likely value" in swing_words(replace(sale, flips_at=None))


def test_json_is_one_object_with_a_schema_and_numbers_as_numbers():
    read = json.loads(as_json(assessment_object(one_answer(), load_catalogue(), ("prices",))))
    assert read["schema"] == 1 and read["go"] is True and read["invented"] == ["prices"]
    assert read["limit"] == 71.25 and read["price"] == 60.0 and read["losses_in_20"] == 4
    assert len(read["dots"]) == 20 and read["steps"][2]["stop_point"] is True
    assert read["steps"][2]["chance"] == 0.85 and read["unit"]["tier"] == "upper"
    assert sum(line["amount"] for line in read["lines"]) == pytest.approx(read["expected_margin"])


def test_a_no_go_is_not_a_go_in_json():
    assert assessment_object(one_answer(verdict=Verdict.CHECK), load_catalogue())["go"] is False


def test_json_refuses_what_is_not_a_number():
    with pytest.raises(ValueError, match="not JSON compliant"):
        as_json(assessment_object(one_answer(expected_margin=float("nan")), load_catalogue()))
