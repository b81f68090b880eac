"""Closed streams, pipes that nobody writes to, a locale without our signs: each in its own process."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

import triage
from tests.cli.hostile.case import JOBS, LOT, UNIT, lay_out

HERE = Path(triage.__file__).parents[1]
RUN = "from triage.cli.main import run; run()"


def at_the_shell(line, folder, **environment):
    """A command as a shell starts it, `triage` being this program."""
    lay_out(folder, {"unit.toml": UNIT, "lot.csv": LOT, "jobs.csv": JOBS})
    shell = line.replace("triage ", f"'{sys.executable}' -c '{RUN}' ")
    held = os.environ | {"TRIAGE_RECORD": str(folder / "none.sqlite"), "PYTHONPATH": str(HERE)} | environment
    return subprocess.run(
        ["sh", "-c", shell], cwd=folder, capture_output=True, text=True, timeout=60, env=held
    )


@pytest.mark.slow
@pytest.mark.parametrize(
    ("line", "code", "says"),
    [
        ("triage assess - <&-", 2, "stdin"),
        ("triage quote - <&-", 2, "stdin"),
        ("triage chances >&-", 0, ""),
        ("triage assess none.toml 2>&-", 2, ""),
        ("triage assess unit.toml --json >&- 2>&-", 0, ""),
        ("triage lot lot.csv --out /dev/full/out.csv", 2, "/dev/full"),
        ("triage record export --out o.csv --record /dev/zero", 1, "it is not a file"),
        ("mkfifo p && triage lot p", 2, "is a pipe or a device"),
        ("cat unit.toml | triage assess -", 0, ""),
        ("LC_ALL=C PYTHONUTF8=0 PYTHONCOERCECLOCALE=0 triage assess 'é.toml'", 2, "No such file"),
        ("LC_ALL=C PYTHONUTF8=0 PYTHONCOERCECLOCALE=0 triage lot lot.csv --out 'é.csv'", 0, ""),
        ("LC_ALL=nonsense triage review --past-jobs jobs.csv", 0, ""),
    ],
)
def test_a_command_ends_as_it_should(line, code, says, tmp_path):
    done = at_the_shell(line, tmp_path)
    assert done.returncode == code, done.stderr
    assert says in done.stderr and not (code and done.stdout)
    for words in ("Traceback", "Exception ignored", "lost sys.stderr"):
        assert words not in done.stderr


@pytest.mark.slow
@pytest.mark.parametrize(
    "line",
    [
        "triage lot lot.csv --out closed/out.csv",
        "triage choose lot.csv --out closed/out.csv",
        "triage quote unit.toml --html closed/q.html",
        "triage fit --past-jobs jobs.csv --out closed/draws",
        "triage record import jobs.csv --record closed/record.sqlite",
        "triage assess closed/unit.toml",
    ],
)
def test_a_folder_that_is_closed_is_named(line, tmp_path):
    closed = tmp_path / "closed"
    closed.mkdir()
    (closed / "unit.toml").write_text(UNIT)
    (closed / "unit.toml").chmod(0)
    closed.chmod(0o500)
    if os.access(closed, os.W_OK):
        pytest.skip("nothing is closed to this user")
    done = at_the_shell(line, tmp_path)
    closed.chmod(0o700)
    assert done.returncode in (1, 2) and "closed" in done.stderr and "Traceback" not in done.stderr
    assert [path.name for path in closed.iterdir()] == ["unit.toml"]
