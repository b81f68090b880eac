"""Whatever a command is handed, it says soon and in one message what is wrong; no file changes."""

from __future__ import annotations

import contextlib
import re
import resource
import signal

import pytest

from tests.cli.hostile import books, devices, draws, lots, model_prices, past_jobs, places, records
from tests.cli.hostile.case import SOUND, lay_out, state
from triage.domain.catalogue import _load

SECONDS, KILOBYTES = 20, 600_000
LISTS = (devices, books, model_prices, lots, past_jobs, records, draws, places)
CASES = {
    f"{listed.__name__.rpartition('.')[2]}: {name}": case
    for listed in LISTS
    for name, case in listed.CASES.items()
}
# What steers a terminal: control characters but the line feed, and marks that turn the order of letters.
STEERS = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069]")


class TooLong(BaseException):
    """No error of the system, which a command might take for one of a file."""


@contextlib.contextmanager
def bounded():
    """Fail what takes longer or more memory than any of these may."""

    def too_long(*_):
        raise TooLong(f"no answer within {SECONDS} s")

    before, most = signal.signal(signal.SIGALRM, too_long), peak()
    signal.alarm(SECONDS)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)
    assert peak() - most < KILOBYTES


def peak() -> int:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss


@pytest.fixture
def bench(tmp_path, monkeypatch):
    """A folder to stand in, and no server that would start."""
    place = tmp_path / "bench"
    place.mkdir()
    monkeypatch.chdir(place)
    monkeypatch.setenv("TRIAGE_RECORD", "none.sqlite")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    for name in ("TRIAGE_HOSTS", "TRIAGE_SHARED", "TRIAGE_SHOP_SETTINGS"):
        monkeypatch.setenv(name, "")  # put back after the test, whatever the command sets
    monkeypatch.setattr("runpy.run_module", lambda *_, **__: pytest.fail("the server was started"))
    return tmp_path


@pytest.mark.parametrize("name", CASES)
def test_hostile_input_is_answered_in_one_message(name, triage, bench, monkeypatch):
    case = CASES[name]
    _load.cache_clear()  # every case has its own bad.toml
    lay_out(bench / "bench", SOUND | case.files)
    for variable, value in case.environment.items():
        monkeypatch.setenv(variable, value)
    before = state(bench)
    with bounded():
        said = triage(*case.arguments, stdin=case.stdin)
    told = " ".join((said.err if case.code else said.out + said.err).split())
    assert said.code == case.code, said.err
    for words in case.says:
        assert words in told
    for words in ("Traceback", *case.not_said):
        assert words not in said.err + said.out
    assert not STEERS.search(said.out + said.err)
    assert len(said.err) < 20_000
    if case.code:
        assert said.out == "" and said.err.strip()
        assert state(bench) == before


def test_the_list_is_long_enough_and_covers_every_command():
    from typer.main import get_command

    from triage.cli.main import cli

    top = cli if hasattr(cli, "commands") else get_command(cli)
    commands = {
        f"{name} {inner}".strip()
        for name, command in top.commands.items()
        for inner in getattr(command, "commands", {"": None})
    }
    lines = [case.line for case in CASES.values()]
    assert len(lines) >= 150
    assert not [command for command in commands if not any(line.startswith(command) for line in lines)]
