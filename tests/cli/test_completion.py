"""What the shell is offered while a command is typed, by the shells' own protocol."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys

import pytest

from triage.domain.catalogue import load_catalogue

PROGRAM = [sys.executable, "-c", "from triage.cli.main import run; run()"]


def told(*arguments, **variables):
    done = subprocess.run(
        [*PROGRAM, *arguments], env={**os.environ, **variables}, capture_output=True, text=True, timeout=60
    )
    assert done.returncode == 0 and done.stderr == "", done.stderr
    return done.stdout


def offered(words):
    """What bash is offered for the last of some words."""
    place = str(len(words.split(" ")) - 1)
    return told(COMP_WORDS=words, COMP_CWORD=place, _TRIAGE_COMPLETE="complete_bash").split()


def test_commands_choices_kinds_and_tiers_are_completed(tmp_path):
    assert offered("triage as") == ["assess"]
    assert offered("triage quote x.toml --kind d") == ["diagnostic-fee"]
    cells = [kind for kind in load_catalogue().kinds if kind.startswith("cell-")]
    assert offered("triage fit --half-life-kind cell-") == cells
    assert offered("triage priors state cell-b") == ["cell-bent"]
    assert offered("triage choose lot.csv --most t") == ["top="]
    own = tmp_path / "own.toml"
    own.write_text("not toml [")
    assert offered(f"triage fit --catalogue {own} --half-life-kind cell-") == []


def test_zsh_is_told_what_each_value_means():
    said = told(_TYPER_COMPLETE_ARGS="triage priors state cell-b", _TRIAGE_COMPLETE="complete_zsh")
    assert '"cell-bent":"battery bent or dented"' in said


@pytest.mark.parametrize("shell", ["bash", "zsh"])
def test_the_script_of_a_shell_is_shown_and_installed(shell, tmp_path):
    home = {"HOME": str(tmp_path), "_TYPER_COMPLETE_TEST_DISABLE_SHELL_DETECTION": "1"}
    script = told("--show-completion", shell, **home)
    assert "_TRIAGE_COMPLETE=complete_" + shell in script and "_triage_completion triage" in script
    assert "installed" in told("--install-completion", shell, **home)
    kept = [path for path in tmp_path.rglob("*") if path.is_file() and "_TRIAGE_COMPLETE" in path.read_text()]
    assert len(kept) == 1


@pytest.mark.skipif(not shutil.which("bash"), reason="needs bash")
def test_bash_completes_with_the_script(tmp_path):
    program = tmp_path / "triage"
    program.write_text(f"#!{sys.executable}\nfrom triage.cli.main import run\nrun()\n")
    program.chmod(0o755)
    home = {"_TYPER_COMPLETE_TEST_DISABLE_SHELL_DETECTION": "1"}
    script = told("--show-completion", "bash", **home)
    typed = 'COMP_WORDS=(triage ass); COMP_CWORD=1; _triage_completion triage; echo "${COMPREPLY[@]}"'
    done = subprocess.run(
        ["bash", "-c", f"{script}\n{typed}"],
        env={**os.environ, "PATH": f"{tmp_path}:{os.environ['PATH']}"},
        capture_output=True,
        text=True,
    )
    assert done.stdout.strip() == "assess", done.stderr
