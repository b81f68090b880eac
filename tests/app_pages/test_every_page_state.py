"""Every page with nothing in its record, without chances, with a fit that failed, with hostile words.

Cells that other files test are not here again: the demo on every page (each page's own file), an empty
record of the demo shop (`test_jobs`, `test_parts`, `test_lot`, `test_track_record`), no chances on Device
(`test_device`) and Assumptions (`test_assumptions`), a failed and a rejected fit on Model check.
"""

from __future__ import annotations

import shutil
from dataclasses import replace
from itertools import product

import pytest

from tests.app_pages.read_as_markup import read_as_markup
from tests.tiers import one_in
from triage.posterior.manifest import ModelRecord
from triage.posterior.store import MANIFEST, save_posterior
from triage.workflows.shop.learned_chances import learned_folder
from triage.workflows.shop.shop import open_shop

PAGES = ("device", "jobs", "job", "quote", "lot", "parts", "model_prices", "margin_by_damage", "track_record",
         "assumptions", "model_check", "past_jobs", "settings")  # fmt: skip
HOSTILE = "<b>x</b> $y$ :red[z] [l](http://w) `k` :smile:"


@pytest.fixture(scope="module")
def demo():
    """Few of the demo's draws: the pages are under test, not their figures."""
    found = open_shop().posterior
    return replace(found, draws={name: draws.isel(draw=slice(40)) for name, draws in found.draws.items()})


def figures(page):
    """What a page shows of figures: tiles, tables, pictures."""
    return [*page.metric, *page.dataframe, *page.table, *page.get("vega_lite_chart")]


# -- a shop of one's own, before its first job ---------------------------------------
NO_PAST = "There are no past jobs yet. Jobs that you finish under **Jobs** count from then on."
ALONE = "Assumptions only\\: no past job counts in the chances"
EMPTY = {
    "device": ("Source of the chances\\: assumptions only",),
    "jobs": ("No open jobs. To open one, describe a device on the **Device** page",),
    "job": ("No job is selected. Choose one under **All jobs**.", "All jobs"),
    "quote": ("These figures are for the shop",),
    "lot": ("No lot is assessed yet. Upload the seller's list as a CSV file",),
    "parts": ("The shelf is empty. Parts arrive here when you strip a device",),
    "model_prices": ("No model has its own prices yet: every device is priced by its price class",),
    "margin_by_damage": (NO_PAST, "open **Past jobs**"),
    "track_record": ("No past decision can be assessed yet.", NO_PAST),
    "assumptions": (NO_PAST, "No job has been fitted yet"),
    "model_check": (NO_PAST, "No past job", "uses assumptions only\\: "),
    "past_jobs": ("one row per damage",),
    "settings": ("These are the invented demo settings. Check each one",),
}


@pytest.fixture(scope="module")
def chances(demo, tmp_path_factory):
    """Folders of the shop's own chances: belief alone, as a first fit leaves it; and a fit that failed."""
    home = tmp_path_factory.mktemp("chances")
    believed = ModelRecord(True, True, "no job is closed")
    models = {name: believed for name in demo.manifest.models}
    alone = replace(demo.manifest, models=models, jobs=0, rows=0, as_of="", label="", attempts={})
    save_posterior(replace(demo, manifest=alone), home / "belief-alone")
    models = demo.manifest.models | {"success": ModelRecord(False, False, "3 divergences")}
    failed = replace(demo.manifest, models=models, label=HOSTILE)
    save_posterior(replace(demo, manifest=failed), home / "failed")
    return home


@pytest.fixture
def use(chances, monkeypatch):
    """Start the pages on one of those folders, as `triage app --posterior` does."""
    return lambda name: monkeypatch.setenv("TRIAGE_SHOP_POSTERIOR", str(chances / name))


@pytest.mark.parametrize("name", PAGES)
def test_before_the_first_job_a_page_says_what_is_missing_and_what_to_do(opened, use, name):
    use("belief-alone")
    page = opened(name)
    said = read_as_markup(page)
    assert ALONE in said
    for words in EMPTY[name]:
        assert words in said
    if name in ("jobs", "job", "lot", "parts", "margin_by_damage", "track_record"):
        assert figures(page) == []


# -- chances that are not there, or are spoilt -----------------------------------------
def nowhere(folder):
    shutil.rmtree(folder)
    return "there is no stored posterior here"


def cut_short(folder):
    (file,) = folder.glob("draws-*/success.nc")
    file.write_bytes(file.read_bytes()[:200])
    return "success\\.nc\\: is truncated or was changed since the fit"


@pytest.mark.parametrize(("name", "spoil"), one_in(3, product(PAGES, (nowhere, cut_short))))
def test_without_chances_a_page_says_so_and_shows_no_figure(
    opened, monkeypatch, chances, tmp_path, spoil, name
):
    folder = shutil.copytree(chances / "belief-alone", tmp_path / "chances")
    words = spoil(folder)
    monkeypatch.setenv("TRIAGE_SHOP_POSTERIOR", str(folder))
    page = opened(name)
    (error,) = page.error
    assert "The shop's files cannot be used." in error.value and words in error.value
    assert "Go back to an earlier fit under **Model check**" in read_as_markup(page)
    if (name, spoil) != ("model_check", cut_short):  # that one lists the fits that are kept
        assert figures(page) == []


@pytest.mark.parametrize("name", ("jobs", "job", "lot", "parts", "model_check", "settings"))
def test_learned_chances_whose_own_description_is_spoilt_are_said_to_be_left_aside(opened, chances, name):
    shutil.copytree(chances / "belief-alone", learned_folder())
    (learned_folder() / MANIFEST).write_text('{"schema": "<b>x</b> $y$"}')
    said = read_as_markup(opened(name))
    assert "Your own fit is not used\\: it cannot be read" in said
    assert "fit again\\. Invented demo shop" in said and "\\<b\\>x\\</b\\> \\$y\\$" in said


# -- a fit that its gate refused -------------------------------------------------------
@pytest.mark.parametrize("name", one_in(3, zip(PAGES, strict=True)))
def test_of_a_fit_that_failed_no_answer_is_made(opened, use, name):
    use("failed")
    page = opened(name)
    said = read_as_markup(page)
    assert "The fit failed its checks for chance of repair, so no answer uses it" in said
    if name in ("device", "quote", "assumptions"):
        (told,) = [*page.error, *page.warning]
        assert "go back to an earlier" in told.value
        assert figures(page) == []
