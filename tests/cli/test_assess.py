"""`triage assess`: the answer on stdout, the rest on stderr, and every fault at once."""

from __future__ import annotations

import json
import shutil
from datetime import date

import pytest

from tests.tiers import one_in
from triage.domain.catalogue import load_catalogue
from triage.domain.shop.shelf import PriceFound
from triage.domain.units.unit_file import load_unit
from triage.ledger.opening import open_ledger
from triage.shipped import shipped
from triage.workflows.answers.assess import assess
from triage.workflows.jobs.shelf import note_price
from triage.workflows.shop.shop import open_shop


def test_the_verdict_comes_first(triage, unit_file):
    said = triage("assess", unit_file, "--ask", "20")
    assert said.code == 0, said.err
    assert said.out.split(":")[0].lstrip("+?~x ") == "BUY"
    assert "Highest price" in said.out and "Stop point" in said.out and "\nPlan: " in said.out
    assert "Invented demo figures" in said.out
    assert said.err == ""


def test_no_work_is_planned_on_a_unit_that_is_left(triage, unit_file):
    said = triage("assess", unit_file, "--ask", "60")
    assert said.out.split(":")[0].lstrip("+?~x ") == "DECLINE"
    assert "Stop point: do not start at this price" in said.out and "\nPlan: " not in said.out


def test_json_is_one_object_and_what_the_function_says(triage, unit_file):
    shop = open_shop()
    told = assess(load_unit(unit_file, shop.catalogue, shop.prices), shop, 60.0)
    said = triage("assess", unit_file, "--ask", "60", "--json")
    answer = json.loads(said.out)
    assert answer["verdict"] == told.verdict and answer["limit"] == told.limit
    assert answer["dots"] == list(told.dots) and "prices" in answer["invented"]
    assert answer["schema"] == 1 and answer["route"] == "buy" and answer["price"] == 60.0
    assert answer["losses_in_20"] == sum(dot < -0.005 for dot in answer["dots"])
    assert sum(line["amount"] for line in answer["lines"]) == pytest.approx(
        answer["expected_margin"], abs=0.01
    )
    assert said.err == ""


def test_json_tells_each_branch_with_its_condition_steps_and_end(triage):
    console = shipped("synthetic_cases/devices/dropped-console.toml")
    answer = json.loads(triage("assess", console, "--walk-in", "--as-of", "2026-11-25", "--json").out)
    trace = next(step for step in answer["steps"] if step["kind"] == "trace")
    flex = trace["branches"][0]
    assert flex["condition"] == "If the cause is display flex cut"
    assert 0 < flex["chance"] < 0.2 and flex["end"] == "rejoin" and flex["end_text"] == "go on with step 5"
    assert [step["text"] for step in flex["steps"]] == ["Replace the display flex"]
    assert flex["steps"][0]["branches"] == []
    stop = next(branch for branch in trace["branches"] if branch["end"] == "stop")
    assert stop["rejoins"] is None and [step["kind"] for step in stop["ending"]] == ["return-unfixed"]


def test_a_no_go_is_an_answer(triage, unit_file):
    said = triage("assess", unit_file, "--ask", "5000", "--json")
    answer = json.loads(said.out)
    assert said.code == 0 and answer["go"] is False and answer["expected_margin"] < 0


def test_the_highest_price_is_the_last_one_that_is_a_go(triage, unit_file):
    limit = json.loads(triage("assess", unit_file, "--ask", "1", "--json").out)["limit"]
    at = json.loads(triage("assess", unit_file, "--ask", f"{limit:.2f}", "--json").out)
    above = json.loads(triage("assess", unit_file, "--ask", f"{limit + 1:.2f}", "--json").out)
    assert at["verdict"] in ("take it", "take for parts")
    assert above["verdict"] not in ("take it", "take for parts")


def test_a_walk_in_gets_a_quote(triage, unit_file):
    said = triage("assess", unit_file, "--walk-in")
    assert said.code == 0 and "Lowest quote" in said.out
    answer = json.loads(triage("assess", unit_file, "--walk-in", "--json").out)
    assert answer["route"] == "walk-in"


def test_a_description_may_come_from_stdin(triage, unit_file):
    from_file = triage("assess", unit_file, "--ask", "60", "--json").out
    assert triage("assess", "-", "--ask", "60", "--json", stdin=unit_file.read_bytes()).out == from_file


def test_the_day_decides_how_old_a_price_is(triage, unit_file):
    fresh = triage("assess", unit_file, "--ask", "60", "--full", "--as-of", "2026-11-25").out
    stale = triage("assess", unit_file, "--ask", "60", "--full", "--as-of", "2030-01-01").out
    assert "not confirmed" in stale and stale.count("not confirmed") > fresh.count("not confirmed")


USAGE = {
    "both routes": ("--ask", "5", "--walk-in"),
    "a negative price": ("--ask", "-5"),
    "a price in words": ("--ask", "cheap"),
    "no number": ("--ask", "nan"),
    "no end": ("--ask", "inf"),
    "a date in words": ("--as-of", "today"),
    "an unknown option": ("--price", "5"),
}


@pytest.mark.parametrize("options", USAGE.values(), ids=USAGE.keys())
def test_bad_usage_is_exit_2_with_nothing_on_stdout(triage, unit_file, options):
    said = triage("assess", unit_file, *options)
    assert said.code == 2 and said.out == "" and said.err


BAD_UNITS = {
    "an unknown kind": (
        '[device]\nname = "x"\ntier = "upper"\n[[finding]]\nkind = "frame-bend"\n',
        ["line 5", "finding 1, kind", "'frame-bend'", "nearest known: frame-bent"],
    ),
    "severity 4": (
        '[device]\nname = "x"\ntier = "upper"\n[[finding]]\nkind = "frame-bent"\nseverity = 4\n',
        ["line 6", "finding 1, severity", "4 is not accepted", "less than or equal to 3"],
    ),
    "a negative price": (
        '[device]\nname = "x"\ntier = "upper"\nworking_price = -1.0\n',
        ["line 4", "device, working_price", "greater than or equal to 0"],
    ),
    "a missing field": ('[device]\nname = "x"\n', ["device, tier", "is missing"]),
    "an unknown field": (
        '[device]\nname = "x"\ntier = "upper"\nbatery = "sound"\n',
        ["line 4", "batery", "nearest known: battery"],
    ),
    "an unknown tier": ('[device]\nname = "x"\ntier = "uper"\n', ["line 3", "nearest known: upper"]),
    "a chance of 21 in 20": (
        '[device]\nname = "x"\ntier = "upper"\n[[finding]]\nkind = "frame-bent"\nchance = "21 in 20"\n',
        ["line 6", "finding 1, chance", "8 in 20"],
    ),
    "malformed TOML": ('[device]\nname = "x\n', ["line 2", "well-formed TOML"]),
    "no UTF-8": ("\udcff", ["is not UTF-8 text"]),
}


@pytest.mark.parametrize(("text", "said"), BAD_UNITS.values(), ids=BAD_UNITS.keys())
def test_a_bad_description_names_file_line_field_and_what_is_allowed(
    triage, tmp_path, folder_is_untouched, text, said
):
    path = tmp_path / "bad.toml"
    path.write_bytes(text.encode("utf-8", "surrogateescape"))
    with folder_is_untouched:
        answer = triage("assess", path, "--json")
    assert answer.code == 2 and answer.out == ""
    assert "bad.toml" in answer.err and "Traceback" not in answer.err
    for words in said:
        assert words in answer.err


def test_all_faults_are_said_at_once(triage, tmp_path):
    path = tmp_path / "bad.toml"
    path.write_text(
        '[device]\nname = "x"\ntier = "uper"\nworking_price = -3.0\n'
        '[[finding]]\nkind = "frame-bend"\nseverity = 4\n[[finding]]\nseverity = 1\n'
    )
    lines = triage("assess", path).err.strip().splitlines()
    assert len(lines) == 5
    for words in ("uper", "working_price", "frame-bend", "severity", "finding 2, kind"):
        assert any(words in line for line in lines), words


def test_a_missing_file_is_exit_2(triage, tmp_path):
    said = triage("assess", tmp_path / "nowhere.toml")
    assert said.code == 2 and "nowhere.toml" in said.err


def test_stdin_that_is_not_text_is_exit_2(triage):
    said = triage("assess", "-", stdin=b"\xff\xfe\x00")
    assert said.code == 2 and "UTF-8" in said.err


@pytest.fixture
def posterior(tmp_path):
    """A copy of the shipped demo draws, to be spoiled."""
    copy = tmp_path / "posterior"
    shutil.copytree(shipped("models/posteriors/demo"), copy)
    return copy


def test_draws_of_one_s_own_are_not_called_invented(triage, unit_file, posterior):
    answer = json.loads(triage("assess", unit_file, "--ask", "60", "--json", "--posterior", posterior).out)
    assert not any("past jobs" in words for words in answer["invented"])


def test_draws_for_another_catalogue_are_refused(triage, unit_file, posterior, tmp_path):
    other = tmp_path / "other.toml"
    other.write_text('[[kind]]\nslug = "hinge-loose"\nname = "hinge loose"\nfamily = "hinge"\n')
    said = triage("assess", unit_file, "--posterior", posterior, "--catalogue", other)
    assert said.code == 2 and said.out == ""


def test_truncated_draws_are_refused(triage, unit_file, posterior, folder_is_untouched):
    file = sorted(posterior.rglob("*.nc"))[0]
    file.write_bytes(file.read_bytes()[:-100])
    with folder_is_untouched:
        said = triage("assess", unit_file, "--posterior", posterior)
    assert said.code == 2 and said.out == ""
    assert file.name in said.err and "truncated" in said.err


def test_a_folder_without_draws_is_refused(triage, unit_file, tmp_path):
    said = triage("assess", unit_file, "--posterior", tmp_path)
    assert said.code == 2 and "run a fit first" in said.err


def test_bad_settings_are_refused(triage, unit_file, tmp_path):
    path = tmp_path / "settings.toml"
    path.write_text('shop = "x"\ncurrency = "euro"\nbench_rate = -1.0\n')
    said = triage("assess", unit_file, "--settings", path)
    assert said.code == 2
    assert "currency" in said.err and "bench_rate" in said.err


@pytest.mark.parametrize("kind", one_in(3, zip(list(load_catalogue().kinds)[::7], strict=True)))
def test_a_kind_of_damage_can_be_assessed_by_itself(triage, tmp_path, kind):
    path = tmp_path / "unit.toml"
    path.write_text(f'[device]\nname = "x"\ntier = "middle"\n[[finding]]\nkind = "{kind}"\n')
    said = triage("assess", path, "--ask", "10", "--json")
    assert said.code == 0, said.err
    assert json.loads(said.out)["verdict"]


def test_a_record_s_prices_and_shelf_stand_in_the_answer(triage, tmp_path):
    record, unit = tmp_path / "record.sqlite", tmp_path / "unit.toml"
    unit.write_text('[device]\nname = "x"\ntier = "upper"\n[[finding]]\nkind = "display-glass-cracked"\n')
    said = triage("assess", unit, "--ask", "50", "--json", "--record", record)
    assert said.code == 1 and "no record exists" in said.err
    ledger = open_ledger(record)
    note_price(ledger, "ada", PriceFound("display", "usual source", 100, "EUR", date(2026, 11, 1)))
    ledger.close()
    dear = json.loads(triage("assess", unit, "--ask", "50", "--json").out)
    cheap = json.loads(triage("assess", unit, "--ask", "50", "--json", "--record", record).out)
    assert cheap["expected_margin"] > dear["expected_margin"] + 20
