"""The user guide agrees with the pages and the commands."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest
import typer

from tests.guide_figures import GUIDE, answer, commands, figure_words, figures, rewritten
from triage.cli.main import cli
from triage.reports.wording.verdict import VERDICT_WORDS

ROOT = GUIDE.parent.parent
TEXT = GUIDE.read_text(encoding="utf-8")
# Words in bold that are not labels of a page.
_STRESSED = {"invented", "verdict", "symptom", "Past jobs", "Learn", "Look back"}
_MOST_LINES = 240


def shown() -> str:
    """Every string in the code of the pages."""
    files = [ROOT / "app.py", *(ROOT / "triage" / "app_pages").rglob("*.py")]
    files += (ROOT / "triage" / "reports" / "wording").glob("*.py")
    nodes = (node for path in files for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))))
    said = [n.value for n in nodes if isinstance(n, ast.Constant) and isinstance(n.value, str)]
    return "\n".join((*said, *map(str.capitalize, VERDICT_WORDS.values())))


def held(commands_run, tmp_path, monkeypatch):
    monkeypatch.chdir(ROOT)
    monkeypatch.setenv("TRIAGE_RECORD", str(tmp_path / "record.sqlite"))
    answers = {command.name: answer(command) for command in commands_run}
    off = [
        (figure, figure_words(figure, answers[figure.command]))
        for figure in figures(TEXT)
        if figure.command in answers and figure.said != figure_words(figure, answers[figure.command])
    ]
    assert not off, "make them anew: python -m tests.guide_figures"
    assert rewritten(TEXT, answers) == TEXT


def test_every_label_in_bold_is_on_a_page():
    said = shown()
    labels = {" ".join(label.split()) for label in re.findall(r"\*\*(.+?)\*\*", TEXT, re.DOTALL)}
    assert len(labels) > 60
    missing = {label for label in labels - _STRESSED if label.rstrip(".") not in said}
    assert not missing


def test_every_command_and_option_exists():
    given = commands(TEXT)
    assert len(given) == TEXT.count("\n```sh\n") and sum(bool(command.name) for command in given) >= 5
    for command in given:
        known, words = typer.main.get_command(cli), list(command.words[1:])
        while hasattr(known, "commands"):
            known = known.commands[words.pop(0)]
        options = {option for parameter in known.params for option in parameter.opts}
        assert {word for word in words if word.startswith("--")} <= options, command
        for word in words:
            assert not word.startswith("synthetic_cases/") or (ROOT / word).exists(), word


def test_every_figure_belongs_to_a_command_and_the_guide_is_short():
    names = {command.name for command in commands(TEXT)}
    assert len(figures(TEXT)) >= 15 and {figure.command for figure in figures(TEXT)} <= names
    assert TEXT.count("<!--=") == TEXT.count("<!--/-->") == len(figures(TEXT))
    assert len(TEXT.splitlines()) <= _MOST_LINES


def test_figures_match_the_answers_of_the_quick_commands(tmp_path, monkeypatch):
    held([command for command in commands(TEXT) if command.name and not command.slow], tmp_path, monkeypatch)


@pytest.mark.slow
def test_figures_match_the_answers_of_the_slow_commands(tmp_path, monkeypatch):
    held([command for command in commands(TEXT) if command.slow], tmp_path, monkeypatch)


def test_the_guide_names_every_page():
    titles = re.findall(r'[^_]title="([^"]+)"', (ROOT / "app.py").read_text(encoding="utf-8"))
    for title in titles:
        assert title == "Job" or f"**{title}**" in TEXT


def test_the_guide_contains_no_local_paths_or_addresses():
    assert not re.search(r"/(home|work|tmp)/|localhost|https?://", TEXT) and Path(GUIDE).name == "guide.md"
