"""Answers on one screen of 80 by 40, and nothing but the answer: no library writes beside it."""

from __future__ import annotations

import functools
import json
import os

import pytest

from tests.gold.shipped_answers import ASSESSED, DEVICES, QUOTED, part_of_lot
from triage.shipped import shipped
from triage.workflows.fitting.fit import fit_history

WIDTH, HEIGHT = 80, 40
HISTORY = shipped("synthetic_cases/past-jobs.csv")


@pytest.fixture(autouse=True)
def a_screen(monkeypatch):
    monkeypatch.setenv("COLUMNS", str(WIDTH))


def device(name):
    return shipped(f"synthetic_cases/devices/{name}.toml")


def fits(said):
    assert said.code == 0, said.err
    lines = said.out.splitlines()
    assert max(map(len, lines)) <= WIDTH
    wrapped = sum(-(-len(line) // WIDTH) for line in said.err.splitlines())  # by the terminal
    assert len(lines) + wrapped < HEIGHT, (len(lines), wrapped)


@pytest.mark.parametrize("name", DEVICES)
@pytest.mark.parametrize("more", ASSESSED, ids=" ".join)
def test_a_device_is_answered_on_one_screen(triage, name, more):
    said = triage("assess", device(name), *more)
    fits(said)
    assert said.err == ""
    whole = triage("assess", device(name), *more, "--full").out
    assert len(whole.splitlines()) > len(said.out.splitlines())
    assert max(map(len, whole.splitlines())) <= WIDTH


@pytest.mark.parametrize("name", DEVICES)
@pytest.mark.parametrize("kind", QUOTED)
def test_a_quote_is_told_on_one_screen(triage, name, kind):
    said = triage("quote", device(name), "--kind", kind)
    if said.code == 0:
        fits(said)
    else:  # one that may not be quoted is refused in a line
        assert said.out == "" and len(said.err.splitlines()) == 1


@pytest.fixture
def long_lot(tmp_path):
    """A lot with more units to take than a screen has lines, and rows that cannot be read."""
    lot = part_of_lot(tmp_path)
    head, *rows = lot.read_text().splitlines()
    bad = [row.replace(row.split(",")[0], f"BAD-{n}", 1).replace("/", "~/") for n, row in enumerate(rows[:9])]
    lot.write_text("\n".join((head, *rows, *bad)) + "\n")
    return lot


@pytest.mark.parametrize("command", [("lot",), ("choose", "--cash", "5000", "--whole")], ids=" ".join)
def test_a_long_lot_is_told_on_one_screen_and_whole_with_full(triage, long_lot, command):
    name, *more = command
    said = triage(name, long_lot, *more)
    fits(said)
    whole = triage(name, long_lot, *more, "--full")
    assert len(whole.out.splitlines()) + len(whole.err.splitlines()) > len(said.out.splitlines())
    assert "--full" in said.out + said.err and "--full" not in whole.out + whole.err
    units = json.loads(triage(name, long_lot, *more, "--json").out)
    taken = [line["label"] for line in units["lines"] if line["taken"]] if "lines" in units else [
        unit["unit"] for unit in units["units"]
    ]  # fmt: skip
    assert all(unit in whole.out for unit in taken)
    assert len(units["bad_rows"]) > 3
    for row in units["bad_rows"]:
        assert f"line {row['line']}," in " ".join((whole.out + whole.err).split())


@pytest.mark.slow
@pytest.mark.parametrize("command", [("lot",), ("choose", "--cash", "2000", "--hours", "40", "--whole")])
def test_the_shipped_lot_is_told_on_one_screen(triage, command):
    name, *more = command
    fits(triage(name, shipped("synthetic_cases/lot.csv"), *more))


def test_nothing_but_the_answer_is_written(triage, tmp_path, no_record):
    """Each command at the level of file descriptors: what a compiled library prints is seen here too."""
    past = tmp_path / "past.csv"
    past.write_text("".join(HISTORY.read_text().splitlines(keepends=True)[:120]))
    lot = part_of_lot(tmp_path)
    os.makedirs(no_record.parent, exist_ok=True)
    for command in (
        ("record", "import", past),
        ("record", "status"),
        ("record", "backup", tmp_path / "copy.sqlite"),
        ("backup", tmp_path / "shop.zip"),
        ("assess", device("harbour-tablet"), "--ask", "40"),
        ("quote", device("rain-handset")),
        ("lot", lot),
        ("choose", lot, "--cash", "600", "--hours", "12"),
        ("choose", lot, "--cash", "600", "--hours", "12", "--worst", "--most", "top=2", "--whole"),
        ("chances",),
        ("review", "--past-jobs", past),
        ("posterior", "status", shipped("models/posteriors/demo")),
        ("posterior", "health", shipped("models/posteriors/demo")),
        ("posterior", "list", shipped("models/posteriors/demo")),
        ("priors", "sets"),
        ("priors", "show"),
    ):
        said = triage(*command, "--json")
        words = " ".join(map(str, command))
        assert said.code == 0 and said.err == "", (words, said.err)
        json.loads(said.out)
        assert said.out.startswith(("{", "[")) and said.out.endswith(("}\n", "]\n")), words
        if command[0] in ("assess", "quote", "lot", "choose"):
            assert triage(*command).err == "", words


@pytest.mark.slow
def test_a_fit_writes_nothing_but_its_answer(triage, tmp_path, monkeypatch):
    one_model = functools.partial(fit_history, models=["bench_minutes"])  # the others are sampled alike
    monkeypatch.setattr("triage.workflows.fitting.fit.fit_history", one_model)
    past = tmp_path / "past.csv"
    past.write_text("".join(HISTORY.read_text().splitlines(keepends=True)[:60]))
    fitted = triage("fit", "--past-jobs", past, "--out", tmp_path / "draws", "--json")
    assert fitted.code in (0, 3)
    assert json.loads(fitted.out)["models"]["bench_minutes"]["diagnostics"] is not None  # it was sampled
    refused = "triage: the fit did not converge"
    assert all(line.startswith(refused) for line in fitted.err.splitlines())
