"""The parts of a wreck in words: the table of `--full` and of the device page."""

from __future__ import annotations

import io
from dataclasses import replace
from typing import get_args

from rich.console import Console

from tests.gold.test_parts_of_wrecks import BOARD, DISPLAY, HOUSING
from tests.gold.worked import worked
from triage.domain.catalogue import load_catalogue
from triage.domain.catalogue_entries import YieldPart
from triage.domain.units.unit import Finding, Unit
from triage.policy.answer.assessment import Take
from triage.policy.answer.right_answer import RightAnswer
from triage.reports.json_output.answer import assessment_object
from triage.reports.terminal.answer import print_whole
from triage.reports.wording.parts import PART_WORDS, TAKE_WORDS, part_rows, strip_words

UNIT = Unit("bulging", "middle", (Finding("cell-swollen"),))
WORK = {("cell-swollen", "replace-cell"): (0.05, 30, 30)}


def answer(yields=(BOARD, DISPLAY, HOUSING)):
    return worked(UNIT, WORK, ask=10, yields=yields)


def test_every_part_and_every_choice_has_its_words():
    assert set(PART_WORDS) == set(get_args(YieldPart)) and set(TAKE_WORDS) == set(get_args(Take))


def test_one_row_a_part_with_what_to_do():
    # Board 80 - 20; display .85 x 50 - 15; housing .9 x 10 - 10: see the unit worked by hand.
    assert part_rows(answer()) == [
        ("main board", "20 in 20", "€80.00", "20 min", "€60.00", "take out and test"),
        ("display", "17 in 20", "€50.00", "15 min", "€27.50", "take out and test"),
        ("housing and frame", "20 in 20", "€9.00", "10 min", "−€1.00", "not worth the minutes"),
    ]
    words = strip_words(answer())
    assert (
        words == "Stripped as it lies: €67.50 after fees, tax and bench time, before what you pay for it; "
        "opening (20 min) counts once."
    )
    told = strip_words(replace(answer(), right=RightAnswer(0.9, (), None, 0.0, 1.0, False)))
    assert told.endswith("Strip nothing before the right to sell it is settled.")
    locked = replace(answer(), right=RightAnswer(0.9, (), None, 0.0, 1.0, True))
    assert part_rows(locked) == [], "one whose lock can only be settled once it works may not be stripped"


def test_the_whole_answer_shows_the_table_and_json_the_parts():
    console = Console(width=100, record=True, file=io.StringIO())
    print_whole(answer(), load_catalogue(), console)
    text = console.export_text()
    assert "Parts worth taking out" in text and "not worth the minutes" in text
    told = assessment_object(answer(), load_catalogue())["stripped"]
    assert [part["take"] for part in told["parts"]] == ["tested", "tested", "leave"]


def test_a_price_book_without_parts_shows_no_table():
    plain = answer(yields=())
    assert plain.stripped is None and part_rows(plain) == [] and strip_words(plain) == ""
    console = Console(width=100, record=True, file=io.StringIO())
    print_whole(plain, load_catalogue(), console)
    assert "Parts worth taking out" not in console.export_text()
