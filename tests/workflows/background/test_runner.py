"""Long work: every way that it can end, seen by the page that began it and by any other."""

from __future__ import annotations

import json
import subprocess
import sys
import time

import psutil
import pytest

from tests.workflows.fake_work import KINDS
from triage.errors import LongWorkError
from triage.shipped import shipped
from triage.workflows.background import runner
from triage.workflows.background.runner import look, newest_done, start, stop


@pytest.fixture(autouse=True)
def home(monkeypatch, tmp_path):
    monkeypatch.setenv("PYTHONPATH", str(shipped("app.py").parent))
    monkeypatch.setenv("TRIAGE_WORK", str(tmp_path / "work"))
    yield tmp_path / "work"
    for kind in KINDS:
        stop(kind)


def until(kind, ready):
    """Look until the work is as wanted."""
    give_up = time.monotonic() + 20
    while not ready(work := look(kind)):
        assert time.monotonic() < give_up, work
        time.sleep(0.01)
    return work


def ended(kind):
    return until(kind, lambda work: work.state != "running")


def test_a_result_is_kept_and_leaves_the_way_free():
    assert look("adds") is None and newest_done("adds") is None
    work = start("adds", {"numbers": [1, 2]}, kinds=KINDS)
    assert work.kind == "adds" and work.state in ("running", "done")  # it may be quicker than the look at it
    done = ended("adds")
    assert (done.state, done.problem, done.id) == ("done", "", work.id)
    assert done.result["sum"] == 3 and done.result["nice"] >= 10
    assert start("adds", {"numbers": [5]}, kinds=KINDS).id > done.id
    assert ended("adds").result["sum"] == 5


def test_a_refusal_a_fault_and_a_sudden_death_are_told_apart():
    for kind in ("refuses", "raises", "vanishes"):
        start(kind, {}, kinds=KINDS)
    said = {kind: ended(kind).problem for kind in ("refuses", "raises", "vanishes")}
    assert said == {
        "refuses": "chains disagree: $x$ <b>",
        "raises": "failed (exit code 1): RuntimeError: a fault of the program",
        "vanishes": "failed (exit code 7)",
    }


def test_one_that_runs_is_refused_a_second_time_stopped_and_leaves_the_former_result(home):
    # A former result of the kind.
    old = home / "waits" / "20200101T000000.000000-aaaa"
    old.mkdir(parents=True)
    (old / "result.json").write_text('{"former": 1}')
    start("waits", {}, kinds=KINDS)
    work = until("waits", lambda work: work.words == "settling down")
    assert (work.state, work.done, work.total) == ("running", None, None)
    with pytest.raises(LongWorkError, match="already running"):
        start("waits", {}, kinds=KINDS)
    # Another process, such as a server started again, sees the same and is refused as well.
    script = (
        "from tests.workflows.fake_work import KINDS\n"
        "from triage.workflows.background.runner import *\n"
        "print(look('waits').words)\n"
        "try: start('waits', {}, kinds=KINDS)\n"
        "except Exception as refusal: print(refusal)\n"
    )
    other = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert other.stdout.splitlines()[0] == "settling down"
    assert "already running" in other.stdout
    stop("waits")
    assert look("waits").state == "stopped"
    assert newest_done("waits").result == {"former": 1}


def test_one_that_will_not_hear_is_killed_and_one_killed_by_others_is_said_so(home):
    start("stubborn", {}, kinds=KINDS)
    until("stubborn", lambda work: work.words == "deaf")
    stop("stubborn")
    assert look("stubborn").state == "stopped"
    work = start("waits", {}, kinds=KINDS)
    until("waits", lambda work: work.words == "settling down")
    # The server that began it is gone: nobody waits for the child but its lock.
    process = json.loads((home / "waits" / work.id / "process.json").read_text())["pid"]
    psutil.Process(process).kill()
    assert "ended by signal 9" in ended("waits").problem
    (home / "waits" / work.id / "ended.json").unlink()
    assert look("waits").problem == "it exited without an error message"


def test_a_line_cut_short_is_passed_over_and_old_results_go(home):
    for day in range(1, 6):
        folder = home / "adds" / f"2020010{day}T000000.000000-aaaa"
        folder.mkdir(parents=True)
        (folder / "result.json").write_text(json.dumps({"day": day}))
    (folder / "events.jsonl").write_text('{"words": "whole"}\n{"words": "ha')
    assert look("adds").result == {"day": 5}
    start("adds", {"numbers": []}, kinds=KINDS)
    ended("adds")
    assert len(list((home / "adds").iterdir())) == runner.KEEP + 1


def test_a_folder_that_cannot_be_written_is_said(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(LongWorkError, match="cannot be written"):
        start("adds", {}, tmp_path / "file", KINDS)
