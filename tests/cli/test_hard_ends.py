"""What used to end in a traceback, or was taken wrongly, is one sentence and exit code 2."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from triage.shipped import shipped

TABLET = str(shipped("synthetic_cases/devices/harbour-tablet.toml"))
PROGRAM = [sys.executable, "-c", "from triage.cli.main import run; run()"]
SETTINGS = shipped("models/shop/demo-settings.toml").read_text(encoding="utf-8")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no /dev/full")
@pytest.mark.parametrize("more", [[], ["--json"]])
def test_a_full_disk_under_the_output_is_said(more, tmp_path):
    environment = {**os.environ, "TRIAGE_RECORD": str(tmp_path / "record.sqlite")}
    with open("/dev/full", "w") as full:
        done = subprocess.run(
            [*PROGRAM, "assess", TABLET, *more],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            env=environment,
        )
    assert done.returncode == 2 and done.stderr.splitlines()[-1] == "triage: No space left on device"
    assert "Traceback" not in done.stderr and "Exception ignored" not in done.stderr


def test_an_output_that_nobody_reads_any_more_ends_quietly(tmp_path):
    environment = {**os.environ, "TRIAGE_RECORD": str(tmp_path / "record.sqlite")}
    read, write = os.pipe()
    os.close(read)
    done = subprocess.run(
        [*PROGRAM, "assess", TABLET], stdout=write, stderr=subprocess.PIPE, text=True, env=environment
    )
    os.close(write)
    assert "Traceback" not in done.stderr and "Exception ignored" not in done.stderr


@pytest.mark.parametrize("written", ["9" * 5000, '"' + "9" * 5000 + '"', "1e5000"])
def test_a_price_of_thousands_of_digits_is_refused(triage, tmp_path, written):
    unit = tmp_path / "unit.toml"
    unit.write_text(f'[device]\ntier = "top"\nworking_price = {written}\n[[finding]]\nkind = "port-dirty"\n')
    said = triage("assess", unit)
    assert said.code == 2 and str(unit) in said.err and len(said.err) < 600


@pytest.mark.parametrize(
    ("before", "after", "said"),
    [
        ("losses_in_20 = 6", "losses_in_20 = true", "losses_in_20: true is no number"),
        ("selling_share = 0.08", "selling_share = 0.99", "payment_share below 1"),
        ("selling_share = 0.08", "selling_share = 1.5", "selling_share"),
    ],
)
def test_settings_that_cannot_be_meant_are_refused(triage, tmp_path, before, after, said):
    assert before in SETTINGS
    settings = tmp_path / "settings.toml"
    settings.write_text(SETTINGS.replace(before, after), encoding="utf-8")
    told = triage("assess", TABLET, "--settings", settings)
    assert told.code == 2 and said in told.err
