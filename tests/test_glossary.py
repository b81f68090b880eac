"""Pages and commands use the words of the glossary, and no word that it retired."""

from __future__ import annotations

import ast
import re
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
GLOSSARY = ROOT / "docs" / "glossary.md"
RETIRED = Path(__file__).parent / "retired_words.txt"
PAGES = ROOT / "triage" / "app_pages"
# What a later reader may still find in the history of changes.
_HISTORY = {"CHANGELOG.md", "tests/retired_words.txt", "tests/upgrade/record-2026-11.sql"}


def rows() -> list[list[str]]:
    """Term, meaning, where used, name in code; of every line of every table."""
    lines = [line for line in GLOSSARY.read_text(encoding="utf-8").splitlines() if line.startswith("| ")]
    cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]
    return [row for row in cells if row[0] != "term"]


def terms() -> set[str]:
    """Every term, each of a line's several by itself, without what stands in brackets or after a colon."""
    told = (re.sub(r"\(.*?\)", "", row[0]).lower() for row in rows())
    return {term.strip() for line in told for term in re.split(r",|/|:", line)}


def code() -> str:
    files = (ROOT / "triage").rglob("*.py")
    return "\n".join(path.read_text(encoding="utf-8") for path in files)


def labels(*calls: str) -> set[str]:
    """First arguments of calls such as `st.metric` in the pages, where they are plain texts."""
    found = set()
    for path in PAGES.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.args:
                told = node.args[0]
                if node.func.attr in calls and isinstance(told, ast.Constant) and isinstance(told.value, str):
                    found.add(told.value)
    return found


def test_every_term_has_its_meaning_its_place_and_a_name_that_is_in_the_code():
    source = code()
    assert len(rows()) > 60
    for row in rows():
        assert len(row) == 4 and all(row), row
        for name in re.findall(r"`([^`]+)`", row[3]):
            last = name.rsplit(".", 1)[-1].split()[-1].lstrip("-")
            assert re.search(rf"\b{re.escape(last)}\b", source), f"{row[0]}: no {name} in the code"


def test_no_term_is_explained_twice():
    told = [term for row in rows() for term in re.split(r",|/", row[0].lower())]
    assert len(told) == len(set(told))


def test_pages_are_called_as_the_glossary_calls_them():
    titles = re.findall(r'[^_]title="([^"]+)"', (ROOT / "app.py").read_text(encoding="utf-8"))
    used = " ".join(row[2] for row in rows())
    assert len(titles) >= 10
    for title in titles:
        assert title in used or title.rstrip("s") in used, f"{title}: no term of the glossary is used there"


def test_figures_of_the_pages_are_terms():
    told = {re.sub(r"\W+$", "", label).lower() for label in labels("metric")}
    assert len(told) >= 2
    assert told <= terms(), "a figure's label is a term of the glossary"


def test_buttons_begin_with_a_verb_or_name_what_they_download():
    pressed = labels("button", "form_submit_button", "download_button")
    assert len(pressed) > 30
    for label in pressed:
        first = label.split()[0]
        assert first[0].isupper() and not first.endswith(("ed", "ing")), (
            f"{label!r} is no verb and its object"
        )


def tracked() -> list[Path]:
    done = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=False)
    if done.returncode:
        pytest.skip("needs the checkout's list of files")
    names = done.stdout.decode().split("\0")
    return [ROOT / name for name in names if name and name not in _HISTORY]


def test_no_retired_word_is_left():
    retired = [line.strip() for line in RETIRED.read_text(encoding="utf-8").splitlines() if line.strip()]
    assert len(retired) > 40 and retired == sorted(set(retired))
    found = []
    for path in tracked():
        if path.suffix not in (".py", ".md", ".toml", ".typ", ".jinja", ".yml"):
            continue
        text = " ".join(path.read_text(encoding="utf-8").lower().split())
        found += [f"{path.relative_to(ROOT)}: {word}" for word in retired if word in text]
    assert not found
