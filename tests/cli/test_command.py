"""The command as a whole: help, version, exit codes, a separate process, light imports."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
from importlib.metadata import entry_points, version
from pathlib import Path

import pytest

from triage.cli.main import run
from triage.errors import NotConvergedError, PlanTooLargeError, StalePosteriorError, UnitFileError
from triage.shipped import shipped

COMMAND = [sys.executable, "-c", "from triage.cli.main import run; run()"]


def in_a_process(*arguments, **more):
    return subprocess.run(
        [*COMMAND, *map(str, arguments)], capture_output=True, text=True, timeout=120, **more
    )


@pytest.mark.parametrize("command", ["app", "assess", "chances", "fit"])
def test_every_command_has_help(triage, command):
    said = triage(command, "--help")
    assert said.code == 0 and said.out.startswith("Usage: triage " + command)
    assert triage(command, "-h").out == said.out


def test_help_lists_the_commands(triage):
    out = triage("--help").out
    for command in ("app", "assess", "chances", "fit"):
        assert f"\n  {command} " in out


def test_commands_and_options_of_earlier_versions_still_work(triage, tmp_path, monkeypatch):
    record = tmp_path / "record.sqlite"
    past = shipped("synthetic_cases/past-jobs.csv")
    earlier, now = (triage(group, "import", past, "--dry-run", f"{option}={record}") for group, option in
                    (("ledger", "--ledger"), ("record", "--record")))  # fmt: skip
    assert earlier.code == 0 and earlier.out == now.out
    assert (
        triage("ledger", "status", "--ledger", record).err
        == triage("record", "status", "--record", record).err
    )
    assert "ledger" not in triage("--help").out and "--history" not in triage("review", "--help").out
    monkeypatch.delenv("TRIAGE_RECORD", raising=False)
    monkeypatch.setenv("TRIAGE_LEDGER", str(record))
    assert str(record) in triage("record", "status").err


def test_version(triage):
    assert triage("--version").out.strip() == f"triage {version('bench-triage')}"


@pytest.mark.parametrize("arguments", [(), ("appraise",), ("assess",), ("fit", "--past-jobs", "x.csv")])
def test_bad_usage_is_exit_2(triage, arguments):
    assert triage(*arguments).code == 2


def test_the_entry_point_is_this_command():
    (found,) = entry_points(group="console_scripts", name="triage")
    assert found.load() is run


@pytest.mark.parametrize(
    ("refusal", "code"),
    [
        (NotConvergedError("the chains disagree"), 3),
        (PlanTooLargeError("too much at once"), 1),
        (StalePosteriorError("fitted for another catalogue"), 2),
        (UnitFileError([]), 2),
    ],
)
def test_a_refusal_is_its_message_and_its_exit_code(triage, unit_file, monkeypatch, refusal, code):
    def refuse(*_, **__):
        raise refusal

    monkeypatch.setattr("triage.workflows.shop.shop_files.open_shop", refuse)
    said = triage("assess", unit_file)
    assert (said.code, said.out) == (code, "")
    assert said.err == f"triage: {refusal}\n"


def test_interrupted_is_exit_130(triage, unit_file, monkeypatch):
    def interrupt(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr("triage.workflows.shop.shop_files.open_shop", interrupt)
    said = triage("assess", unit_file)
    assert said.code == 130 and "Traceback" not in said.err


@pytest.mark.slow
def test_a_separate_process_refuses_without_a_traceback(tmp_path):
    bad = tmp_path / "bad.toml"
    bad.write_text('[device]\nname = "x"\n')
    done = in_a_process("assess", bad)
    assert done.returncode == 2 and done.stdout == ""
    assert "device, tier" in done.stderr and "Traceback" not in done.stderr


@pytest.mark.slow
def test_colour_is_left_out_when_asked(unit_file):
    done = in_a_process(
        "--no-color", "assess", unit_file, "--ask", "60", env={"FORCE_COLOR": "1", "PATH": ""}
    )
    assert done.returncode == 0 and "\x1b[3" not in done.stdout


@pytest.mark.slow
def test_signs_are_written_where_the_systems_encoding_lacks_them(unit_file):
    # A pipe on Windows has an encoding without "−"; the plain C locale has one without "€" too.
    plain = {"LC_ALL": "C", "PYTHONCOERCECLOCALE": "0", "PYTHONUTF8": "0"}
    done = in_a_process("assess", unit_file, "--ask", "60", env=os.environ | plain, encoding="utf-8")
    assert done.returncode == 0, done.stderr
    assert "€" in done.stdout and "−" in done.stdout


def test_a_separate_process_prints_pure_json_and_loads_no_sampler(unit_file):
    code = (
        "import sys\nfrom triage.cli.main import run\n"
        f"try:\n    run(['assess', {str(unit_file)!r}, '--ask', '60', '--json'])\n"
        "except SystemExit:\n    pass\n"
        "heavy = {'pymc', 'pytensor', 'arviz', 'nutpie', 'numba', 'streamlit'} & set(sys.modules)\n"
        "sys.exit(f'loaded: {sorted(heavy)}' if heavy else 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["schema"] == 1 and done.stderr == ""


def test_app_serves_the_shipped_page_of_the_shop_it_was_given(monkeypatch, tmp_path, triage):
    started = []
    monkeypatch.setattr("sys.argv", [])
    monkeypatch.setattr("runpy.run_module", lambda module, **_: started.append([module, *sys.argv[1:]]))
    monkeypatch.chdir(tmp_path)
    for name in ("TRIAGE_SHOP_SETTINGS", "TRIAGE_SHOP_PRICES", "TRIAGE_HOSTS"):
        monkeypatch.setenv(name, "")  # put back after the test, whatever the command sets
    settings = shipped("models/shop/demo-settings.toml")
    said = triage("app", "--port", "8765", "--settings", settings)
    assert said.code == 0 and "http://127.0.0.1:8765" in said.err
    ((*program, page, port_option, port, address_option, address),) = started
    assert program == ["streamlit", "run"] and page.endswith("server.py") and Path(page).is_file()
    assert os.environ["TRIAGE_HOSTS"] == "127.0.0.1,localhost" and "without a login" not in said.err
    assert (port_option, port) == ("--server.port", "8765")
    assert (address_option, address) == ("--server.address", "127.0.0.1")
    assert os.environ["TRIAGE_SHOP_SETTINGS"] == str(settings)
    assert (shipped("app.py").parent / ".streamlit/config.toml").is_file()


def test_app_open_to_the_network_says_so_and_answers_to_names_it_knows(monkeypatch, tmp_path, triage):
    monkeypatch.setattr("sys.argv", [])
    monkeypatch.setattr("runpy.run_module", lambda *_, **__: None)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("TRIAGE_HOSTS", "")
    said = triage("app", "--address", "192.0.2.7", "--name", "bench.shop.example")
    assert "without a login" in said.err and "bench.shop.example" in said.err
    assert os.environ["TRIAGE_HOSTS"] == "127.0.0.1,localhost,192.0.2.7,bench.shop.example"
    assert triage("app", "--address", "0.0.0.0").code == 0
    everywhere = os.environ["TRIAGE_HOSTS"].split(",")
    assert {"127.0.0.1", "localhost", socket.gethostname()} <= set(everywhere) and "*" not in everywhere


def test_app_on_a_server_s_record_says_what_lies_on_this_machine_only(monkeypatch, tmp_path, triage):
    monkeypatch.setattr("sys.argv", [])
    monkeypatch.setattr("runpy.run_module", lambda *_, **__: None)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("TRIAGE_HOSTS", "")
    monkeypatch.setenv("TRIAGE_SHARED", "")
    monkeypatch.setenv("TRIAGE_RECORD", "postgresql://ada@localhost/bench")
    assert "on this machine only" in " ".join(triage("app").err.split())
    assert triage("app", "--shared", tmp_path / "nowhere").code == 2
    said = triage("app", "--shared", tmp_path)
    assert said.code == 0 and "machine only" not in said.err
    assert os.environ["TRIAGE_SHARED"] == str(tmp_path)


@pytest.mark.parametrize("given", ["record.sqlite", "sqlite:///{folder}/record.sqlite"])
def test_app_passes_on_the_record_it_was_given(monkeypatch, tmp_path, triage, given):
    monkeypatch.setattr("sys.argv", [])
    monkeypatch.setattr("runpy.run_module", lambda *_, **__: None)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("TRIAGE_RECORD", "")
    given = given.format(folder=tmp_path)
    assert triage("app", "--record", given).code == 0
    # The server starts in another folder: a relative path would be another record there.
    assert os.environ["TRIAGE_RECORD"] == (given if "://" in given else str(tmp_path / given))
    assert (tmp_path / "record.sqlite").is_file()


def test_app_refuses_a_record_that_cannot_be_opened(monkeypatch, tmp_path, triage):
    monkeypatch.setattr("runpy.run_module", lambda *_, **__: pytest.fail("the server was started"))
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("TRIAGE_RECORD", "")
    tmp_path.joinpath("record.sqlite").write_text("no database")
    said = triage("app", "--record", "record.sqlite")
    assert said.code == 1 and "record.sqlite" in said.err and "Traceback" not in said.err


def test_app_refuses_a_shop_that_cannot_be_opened(triage, tmp_path):
    said = triage("app", "--posterior", tmp_path)
    assert said.code == 2 and "run a fit first" in said.err
