"""Run the command line in this process and see exit code, stdout and stderr apart."""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path

import pytest
from typer.main import get_command

from triage.cli import main
from triage.cli.main import run


@dataclass(frozen=True)
class Said:
    code: int
    out: str
    err: str


@pytest.fixture(scope="session", autouse=True)
def command_built_once():
    """A process reads the signatures of all commands once; the tests' one would at every call."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(main, "cli", get_command(main.cli))
        yield


@pytest.fixture
def triage(capfd, monkeypatch):
    def call(*arguments, stdin=None):
        if stdin is not None:
            monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(stdin)))
        capfd.readouterr()
        try:
            run([str(argument) for argument in arguments])
            code = 0
        except SystemExit as stop:
            code = stop.code or 0
        return Said(code, *capfd.readouterr())

    return call


UNIT = """\
[device]
name = "Dropped handset"
tier = "upper"
cause = "dropped"
battery = "sound"

[ownership]
lock = "clear"
identity = "agrees"

[[finding]]
kind = "display-glass-cracked"
severity = 3

[[finding]]
kind = "antenna-flex-torn"
chance = "8 in 20"
"""


@pytest.fixture
def unit_file(tmp_path):
    path = tmp_path / "unit.toml"
    path.write_text(UNIT)
    return path


@pytest.fixture
def folder_is_untouched(tmp_path):
    """Assert that a refused command wrote nothing."""

    def files() -> dict[Path, bytes]:
        return {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}

    class Watch:
        def __enter__(self):
            self.before = files()

        def __exit__(self, *trouble):
            if trouble[0] is None:
                assert files() == self.before

    return Watch()


@pytest.fixture(autouse=True)
def no_record(monkeypatch, tmp_path_factory):
    """A machine on which no shop has begun; where its record would be."""
    place = tmp_path_factory.mktemp("bench") / "bench.sqlite"
    monkeypatch.setenv("TRIAGE_RECORD", str(place))
    monkeypatch.delenv("TRIAGE_BELIEFS", raising=False)
    return place
