"""Progress: a bar where the error stream is a terminal, and not a byte where it is not."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from tests.gold.shipped_answers import part_of_lot
from triage.cli.backtest import _tell as tell_backtest
from triage.cli.fit import _tell as tell_fit
from triage.cli.terminal.progress import progress
from triage.shipped import shipped

PROGRAM = [sys.executable, "-c", "from triage.cli.main import run; run()"]


def on_a_terminal(*arguments):
    """What a command writes to its error stream, where that is a terminal, and to its output, a pipe."""
    pty = pytest.importorskip("pty", reason="this system has no such terminals")
    ours, theirs = pty.openpty()
    environment = {**os.environ, "TERM": "xterm", "COLUMNS": "80"}
    with subprocess.Popen(
        [*PROGRAM, *map(str, arguments)], stdout=subprocess.PIPE, stderr=theirs, env=environment
    ) as process:
        os.close(theirs)
        told = b""
        while True:
            try:
                part = os.read(ours, 4096)
            except OSError:  # the other end is closed
                break
            if not part:
                break
            told += part
        out = process.stdout.read()
    os.close(ours)
    assert process.returncode == 0, told
    return told.decode(), out.decode()


@pytest.fixture
def past(tmp_path):
    file = tmp_path / "past.csv"
    lines = shipped("synthetic_cases/past-jobs.csv").read_text().splitlines(keepends=True)
    file.write_text("".join(lines[:400]))
    return file


def test_a_lot_an_import_and_a_backup_show_how_far_they_are(tmp_path, past, triage):
    lot = part_of_lot(tmp_path)
    told, out = on_a_terminal("lot", lot, "--json")
    assert "scoring" in told and "/60" in told
    assert out == triage("lot", lot, "--json").out and triage("lot", lot).err == ""
    told, _ = on_a_terminal("record", "import", past)
    assert "writing jobs" in told and "\x1b" in told
    told, _ = on_a_terminal("backup", tmp_path / "shop.zip")
    assert "copying files" in told
    assert triage("backup", tmp_path / "again.zip").err == ""


FIT = (
    {"event": "model", "model": "success", "purpose": "chance of a repair", "place": 0, "of": 6},
    {"event": "sampling", "model": "success", "seconds": 3, "drawn": 500, "of": 4000},
    {"event": "retry", "model": "success", "why": ["R-hat 1.2"]},
    {"event": "fitted", "model": "success", "passed": True, "why": []},
)
BLOCKS = (
    {"event": "block", "place": 1, "of": 4, "origin": "2026-01-01", "past_jobs": 30, "jobs": 9},
    {"event": "model", "model": "success"},
    {"event": "retry", "why": ["R-hat 1.2"]},
)


@pytest.mark.parametrize(
    ("tell", "events", "words"),
    [
        (tell_fit, FIT, ("success, draws", "500/4000", "chance of a repair", "stricter settings: R-hat 1.2")),
        (tell_backtest, BLOCKS, ("block 2 of 4", "1/4", "30 jobs known on 2026-01-01")),
    ],
)
def test_a_fit_and_a_back_test_show_how_far_they_are(tell, events, words, monkeypatch, capfd):
    for watched in (False, True):
        monkeypatch.setattr("triage.cli.terminal.progress.on_terminal", lambda watched=watched: watched)
        with progress("starting") as bar:
            for event in events:
                tell(bar)(event)
        said = capfd.readouterr()
        assert said.out == ""
        assert all(word in said.err for word in words) if watched else said.err == ""
