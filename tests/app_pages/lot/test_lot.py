"""The lot page: it teaches while nothing is scored, then says the choice, the whole and the bad rows."""

from __future__ import annotations

import json
from dataclasses import asdict, replace
from functools import cache

import pytest

from tests.lot_selection.made_lots import made_lot
from triage.app_pages.shared.literal import literal
from triage.app_pages.shared.pages import PAGES
from triage.domain.units.lot import BadRow
from triage.errors import Fault
from triage.lot_selection.lot_choice import Wanted
from triage.lot_selection.packed_lot import packed, unpacked
from triage.lot_selection.whole_lot import LotTerms
from triage.reports.wording.lot import choice_words
from triage.workflows.background.runner import work_home
from triage.workflows.lots.choose import bid_for_whole, choose_from_lot, in_counts, scored_for
from triage.workflows.shop.shop import open_shop

HOSTILE = "<b>x</b> $y$ [z](http://w) :smile:"
VERDICTS = ("take it", "take for parts", "leave it", "check first")


@cache
def demo_shop():
    return open_shop()


def opened(page):
    page.run()
    return page.switch_page(str(PAGES["lot"])).run()


@pytest.fixture
def scored(record):
    """A scored lot in the work's folder, as the child process leaves it."""
    settings, terms = demo_shop().settings, LotTerms(freight=60.0)
    faults = (Fault("x.csv", 9, "tier", f"{HOSTILE} is not a known tier", "low, upper"),)
    lot = replace(
        made_lot(24, 30, 2, verdicts=tuple(VERDICTS[n % 4] for n in range(24))),
        labels=(HOSTILE, *(f"unit {n}" for n in range(1, 24))),
        bad_rows=(BadRow(9, HOSTILE, "", faults),),
    )
    told = {
        "name": HOSTILE,
        "scored_for": scored_for(demo_shop()),
        "scored": packed(lot),
        "whole": asdict(in_counts(bid_for_whole(lot, lambda prices: lot, settings, terms), terms)),
    }
    folder = work_home() / "lot" / "20261125T120000.000000-ab12"
    folder.mkdir(parents=True)
    (folder / "result.json").write_text(json.dumps(told))
    return unpacked(told["scored"])


def test_without_a_lot_it_teaches(page):
    opened(page)
    assert not page.exception
    assert "No lot is assessed yet" in page.info[0].value
    assert [button.label for button in page.button][-1:] == ["Assess the invented lot"]


def test_choice_whole_and_bad_rows_are_those_of_the_workflow(page, scored):
    opened(page)
    page.number_input(key="lot-cash").set_value(150.0)
    page.number_input(key="lot-hours").set_value(6.0).run()
    assert not page.exception
    choice = choose_from_lot(scored, demo_shop().settings, Wanted(150.0, 6.0))
    assert page.header[0].value == literal(choice_words(choice))
    assert len(page.dataframe[0].value) == len(choice.taken)
    text = " ".join(element.value for element in (*page.markdown, *page.caption))
    assert "One more bench hour" in text and "highest price" in text
    assert literal(HOSTILE) in text and HOSTILE not in text
    assert any("Check ownership" in warning.value for warning in page.warning)
    page.multiselect(key="lot-must").set_value(["unit 3"]).run()
    assert "needs a check" in page.error[0].value and not page.exception
    page.multiselect(key="lot-must").set_value([]).run()
    page.get("button_group")[0].set_value("worst").run()
    assert not page.exception and "worst 2 in 20" in " ".join(m.value for m in page.markdown)


def test_a_result_of_another_shop_or_another_version_is_said(page, scored):
    (result,) = work_home().glob("lot/*/result.json")
    result.write_text(json.dumps({**json.loads(result.read_text()), "scored_for": "other"}))
    opened(page)
    assert not page.exception and "changed since" in page.warning[0].value
    result.write_text(json.dumps({"scored": {"labels": []}, "whole": {}}))
    page.run()
    assert not page.exception and "another version" in page.error[0].value
