"""A record survives several writers at once, a kill and a full disk."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest

from triage.domain.job.records import Intake, Place
from triage.errors import LedgerError
from triage.ledger.opening import open_ledger

pytestmark = pytest.mark.slow
ROOT = Path(__file__).parent.parent.parent
DAY = date(2026, 1, 2)


def python(*arguments: str) -> subprocess.Popen:
    return subprocess.Popen(
        [sys.executable, "-m", *arguments],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=ROOT,
    )


@pytest.mark.parametrize(("kind", "writers", "times"), [("sqlite_url", 2, 60), ("postgres_url", 8, 25)])
def test_simultaneous_writers_lose_nothing(request, kind, writers, times):
    address = request.getfixturevalue(kind)
    ledger = open_ledger(address)
    with ledger.writing("ada") as writing:
        jobs = [writing.open_job(f"SL-{n}", "bought", "EUR", Intake(DAY, "x")) for n in (1, 2, 3)]
    running = [
        python("tests.ledger.writer", address, f"bench-{n}", str(times), *map(str, jobs))
        for n in range(writers)
    ]
    refused: dict[str, int] = {}
    for process in running:
        out, err = process.communicate(timeout=120)
        assert process.returncode == 0, err
        for name, count in json.loads(out).items():
            refused[name] = refused.get(name, 0) + count
    with ledger.reading() as reading:
        files = [reading.job(job) for job in jobs]
    ledger.close()
    assert sum(len(file.places) for file in files) == 2 * writers * times
    for file in files:
        # Each place was numbered after the last one its writer saw: a lost update would repeat one.
        assert [kept.record.where for kept in file.places] == [str(n + 1) for n in range(len(file.places))]
        assert file.version == 1 + len(file.places)
    assert refused, "the writers never met: the test shows nothing"


def test_eight_benches_open_a_new_record_together(postgres_url):
    code = "import sys; from triage.ledger.opening import open_ledger; open_ledger(sys.argv[1]).close()"
    running = [
        subprocess.Popen(
            [sys.executable, "-c", code, postgres_url], stderr=subprocess.PIPE, text=True, cwd=ROOT
        )
        for _ in range(8)
    ]
    for process in running:
        _, err = process.communicate(timeout=60)
        assert process.returncode == 0, err


def test_killed_two_hundred_times():
    done = subprocess.run(
        [sys.executable, "-m", "tests.ledger.killed", "--rounds", "200"],
        capture_output=True, text=True, cwd=ROOT, timeout=600,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    counts = json.loads(done.stdout)
    assert counts["kills"] == 200
    assert counts["whole"] > 50 and counts["whole_imports"] > 10, "something was done before the kills"
    assert "worker" not in done.stderr


def test_every_job_confirmed_to_two_hundred_killed_writers_is_complete(ledger_url):
    done = subprocess.run(
        [sys.executable, "-m", "tests.ledger.acknowledged", str(ledger_url), "--rounds", "200"],
        capture_output=True, text=True, cwd=ROOT, timeout=600,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    counted = json.loads(done.stdout)
    assert counted["kills"] == 200 and counted["acknowledged"] > 200, "something was done before the kills"
    assert counted["lost"] == [] == counted["torn"]
    # Of each killed writer at most one job was stored without confirmation.
    assert counted["acknowledged"] <= counted["kept"] <= counted["acknowledged"] + 200


@pytest.fixture
def small_disk(tmp_path):
    """A file system of two megabytes; None where the user may not mount one."""
    folder = tmp_path / "disk"
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=2m", "tmpfs", str(folder)]
    if os.geteuid() != 0 or subprocess.run(mount, capture_output=True).returncode:
        pytest.skip("needs the right to mount; test_opening.py limits the pages instead")
    yield folder
    subprocess.run(["umount", "-l", str(folder)], check=True)


def test_a_full_disk_loses_nothing(small_disk):
    ledger = open_ledger(small_disk / "record.sqlite")
    with ledger.writing("ada") as writing:
        job = writing.open_job("SL-1", "bought", "EUR", Intake(DAY, "x"))
        writing.append(job, Place("shelf"))
    with pytest.raises(LedgerError, match="full; nothing was saved"):
        for _ in range(200):
            with ledger.writing("ada") as writing:
                for _ in range(200):
                    writing.append(job, Place("x" * 100))
    ledger.close()
    again = open_ledger(small_disk / "record.sqlite")
    with again.reading() as reading:
        assert reading.connection.exec_driver_sql("PRAGMA integrity_check").scalar() == "ok"
        places = [kept.record.where for kept in reading.job(job).places]
    again.close()
    assert places[0] == "shelf" and len(places) % 200 == 1
