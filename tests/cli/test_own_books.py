"""Commands answer by the books of the pages: what lies beside the record, unless a file is named."""

from __future__ import annotations

import json
import shutil
from datetime import date

import pytest

from triage.app_pages.shared import shop_counter
from triage.domain.catalogue import load_catalogue
from triage.domain.shop.shelf import PriceFound, ShelfPart
from triage.ledger.opening import open_ledger
from triage.posterior.store import MANIFEST
from triage.priors.saved_sets import save_set
from triage.shipped import shipped
from triage.workflows.jobs.shelf import note_price, shelve
from triage.workflows.shop.learned_chances import learned_folder
from triage.workflows.shop.own_sets import choose_set, sets_home
from triage.workflows.shop.own_settings import keep_settings
from triage.workflows.shop.shop import DEMO_POSTERIOR, DEMO_PRIORS, DEMO_SETTINGS

OURS = ("chances and past jobs", "assumptions about repairs and checks", "rates and rules")


@pytest.fixture
def own(no_record):
    """A shop that has learned, set its rates, chosen its beliefs, and noted a price."""
    shutil.copytree(shipped(DEMO_POSTERIOR), learned_folder())
    keep_settings({"bench_rate": 90.0})
    save_set(sets_home() / "careful", load_catalogue(), [], shipped(DEMO_PRIORS))
    choose_set("careful")
    ledger = open_ledger()
    note_price(ledger, "ada", PriceFound("display", "usual source", 100, "EUR", date(2026, 11, 1)))
    for _ in range(2):
        shelve(ledger, "ada", ShelfPart("torch", 500, "EUR", None, "", "", "", True, False, ""))
    ledger.close()
    return no_record


@pytest.mark.parametrize(
    "command", [("assess", "--ask", "60"), ("assess", "--walk-in"), ("quote",)], ids=lambda one: " ".join(one)
)
def test_a_command_takes_what_the_shop_learned_set_and_believes(triage, unit_file, own, command):
    name, *options = command
    said = triage(name, unit_file, *options, "--json")
    assert said.code == 0, said.err
    assert json.loads(said.out)["invented"] == ["prices"]
    first, *rest = said.err.splitlines()
    assert first == (
        f"From the shop's record {own}: a fit to its jobs; rates and rules; assumptions (careful); "
        "1 price noted; 2 parts on the shelf."
    )
    assert all("From the shop's record" not in line for line in rest)


def test_the_command_line_and_the_pages_answer_alike(triage, unit_file, own):
    told = json.loads(triage("assess", unit_file, "--ask", "60", "--json").out)
    page = shop_counter.answer(unit_file.read_text(), 60.0, False)
    assert (told["verdict"], told["limit"]) == (page.verdict, page.limit)
    assert told["expected_margin"] == pytest.approx(page.expected_margin, abs=1e-9)


@pytest.mark.slow
def test_a_file_on_the_command_line_outranks_the_shop_s_own(triage, unit_file, own):
    named = ("--settings", shipped(DEMO_SETTINGS), "--posterior", shipped(DEMO_POSTERIOR))
    said = triage("assess", unit_file, "--ask", "60", *named, "--priors", shipped(DEMO_PRIORS))
    assert said.err.splitlines()[0] == f"From the shop's record {own}: 1 price noted; 2 parts on the shelf."
    dear = json.loads(triage("assess", unit_file, "--ask", "60", "--json").out)
    cheap = json.loads(triage("assess", unit_file, "--ask", "60", *named, "--json").out)
    assert cheap["expected_margin"] > dear["expected_margin"]  # the bench hour is cheaper


@pytest.mark.slow
def test_a_record_that_is_named_brings_its_own_books(triage, unit_file, own, monkeypatch, tmp_path):
    monkeypatch.setenv("TRIAGE_RECORD", str(tmp_path / "elsewhere" / "none.sqlite"))
    assert triage("assess", unit_file, "--ask", "60").err == ""
    said = triage("assess", unit_file, "--ask", "60", "--record", own)
    assert said.err.startswith(f"From the shop's record {own}: a fit to its jobs; rates and rules;")
    rules = triage("review", "--record", own)
    assert f"Using the shop's own rates and rules: {own.with_name('bench-settings.toml')}" in rules.err


def test_a_lot_and_the_chances_are_of_the_same_books(triage, own, tmp_path):
    lot = tmp_path / "lot.csv"
    lot.write_text("unit,tier,findings,ask,lock\nA1,upper,cell-worn/2,40,clear\n")
    for command in ("lot", "choose"):
        said = triage(command, lot, "--json")
        assert "a fit to its jobs; rates and rules" in said.err
        assert json.loads(said.out)["invented"] == ["prices"]
    said = triage("chances")
    assert str(learned_folder()) in said.err and "Invented demo figures" not in said.out


@pytest.mark.slow
def test_on_a_fresh_machine_the_demo_answers_and_says_so(triage, unit_file, no_record):
    for command in (("assess", unit_file, "--ask", "60"), ("quote", unit_file), ("chances",)):
        said = triage(*command)
        assert said.code == 0 and said.err == "" and "nvented demo figures" in said.out
    told = json.loads(triage("assess", unit_file, "--ask", "60", "--json").out)
    assert set(OURS) < set(told["invented"])
    assert list(no_record.parent.iterdir()) == []  # asking leaves nothing behind


def test_spoilt_chances_are_said_to_be_left_aside(triage, unit_file, own):
    (learned_folder() / MANIFEST).write_text("{")
    said = triage("assess", unit_file, "--ask", "60", "--json")
    assert "no fit, it cannot be read" in said.err and "fit again" in said.err
    assert "chances and past jobs" in json.loads(said.out)["invented"]


def test_a_record_whose_every_fit_failed_is_told_beside_the_demo_answer(triage, unit_file, own):
    learned_folder().rename(learned_folder().with_name("kept"))
    (learned_folder() / "rejected-1").mkdir(parents=True)
    said = triage("assess", unit_file, "--ask", "60", "--json")
    assert "no fit, every fit to this record failed its checks" in said.err
    assert "chances and past jobs" in json.loads(said.out)["invented"]


def test_a_model_on_assumptions_is_named_in_the_answer_and_refused_chances_everywhere(triage, unit_file, own):
    manifest = learned_folder() / MANIFEST
    told = json.loads(manifest.read_text())
    told["models"]["bench_minutes"].update(belief_only=True, refused=True, why="R-hat 1.019")
    manifest.write_text(json.dumps(told))
    words = "Assumptions only for bench minutes (the fit failed its checks)."
    said = triage("assess", unit_file, "--ask", "60", "--json")
    assert words in said.err and words in json.loads(said.out)["notes"]
    told["models"]["success"].update(belief_only=True, refused=True, why="3 divergences")
    manifest.write_text(json.dumps(told))
    said = triage("assess", unit_file, "--ask", "60", "--json")
    answer = json.loads(said.out)
    assert "No past job counts in the chances." in said.err
    assert answer["source"].startswith("assumptions only (other figures")
    assert all(finding["prior_only"] for finding in answer["findings"])


@pytest.mark.slow
def test_of_a_fit_that_failed_its_checks_nothing_is_foretold(triage, unit_file, own, tmp_path):
    folder = shutil.copytree(learned_folder(), tmp_path / "rejected-1")
    told = json.loads((folder / MANIFEST).read_text())
    told["models"]["success"]["passed"] = False
    (folder / MANIFEST).write_text(json.dumps(told))
    for command in (("assess", unit_file, "--ask", "60"), ("quote", unit_file)):
        said = triage(*command, "--posterior", folder)
        assert said.code == 2 and said.out == ""
        assert "failed its checks for chance of repair, so no answer uses it" in said.err
    said = triage("chances", "--posterior", folder)
    assert "failed its checks for chance of repair" in said.err


def test_a_record_that_cannot_be_opened_is_said_and_the_answer_stands(triage, unit_file, no_record):
    no_record.write_text("no record at all, but a text of some length that is not one")
    said = triage("assess", unit_file, "--ask", "60", "--json")
    assert said.code == 0 and json.loads(said.out)["verdict"]
    assert "Recorded prices and parts stock are not used" in said.err and "bench.sqlite" in said.err
    named = triage("assess", unit_file, "--ask", "60", "--record", no_record)
    assert named.code == 1 and named.out == ""
