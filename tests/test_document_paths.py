"""Every path, module and link that a document of the project names exists."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
DOCUMENTS = [
    *sorted(ROOT.glob("*.md")),
    *sorted((ROOT / "docs").glob("*.md")),
    ROOT / "models" / "README.md",
    ROOT / "synthetic_cases" / "README.md",
]
_SUFFIXES = (".py", ".toml", ".md", ".json", ".csv", ".txt", ".nc", ".sql")
# Folders that a path may leave out, and those in which a bare file name is looked for.
_BASES = [ROOT / folder for folder in ("", "triage", "tests/benchmarks", "tests/benchmarks/results")]
_ANYWHERE = [ROOT / folder for folder in ("triage", "models", "synthetic_cases", "tests")]
# Only a shop has this file. A path below `~` is a user's own.
_NOT_SHIPPED = {"beliefs/in-use.txt"}


def named(text: str) -> set[str]:
    """Paths in inline code; in a command, `-m` names a module."""
    found = set()
    for quoted in re.findall(r"`([^`]+)`", re.sub(r"^```.*?^```", "", text, flags=re.DOTALL | re.MULTILINE)):
        words = [] if quoted.startswith("~") else quoted.split()
        for before, word in zip(["", *words], words, strict=False):
            if before == "-m" and re.fullmatch(r"\w+(\.\w+)+", word):
                found.add(word.replace(".", "/") + ".py")
            elif re.fullmatch(r"[\w.*{},/-]+", word) and (word.endswith(_SUFFIXES) or "/" in word):
                found.add(word)
    return found - _NOT_SHIPPED


def exists(path: str, folder: Path) -> bool:
    """Whether a path exists; `a.{b,c}` is both, and a word in capitals stands for any name."""
    if choice := re.search(r"\{([^}]+)\}", path):
        return all(exists(path.replace(choice[0], part), folder) for part in choice[1].split(","))
    if any((base / path).exists() for base in (folder, *_BASES)):
        return True
    pattern = re.sub(r"\b[A-Z]{3,}\b(-name)?", "*", path)
    found = [base.glob(pattern) for base in _BASES] if "/" in path else [b.rglob(pattern) for b in _ANYWHERE]
    return any(next(paths, None) for paths in found)


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: str(path.relative_to(ROOT)))
def test_a_document_names_paths_that_exist(document):
    text = document.read_text(encoding="utf-8")
    links = {link for link in re.findall(r"\]\(([^)#]+)\)", text) if "://" not in link}
    assert [link for link in sorted(links) if not (document.parent / link).exists()] == []
    assert [path for path in sorted(named(text)) if not exists(path, document.parent)] == []


def test_a_path_that_does_not_exist_is_found():
    text = "`triage/none.py`, `python -m tests.none --units 3`, `none/`, `kinds.toml`, `cli/NAME.py`, `~/x`"
    found = named(text + "\n```\n`code.py`\n```")
    assert {path for path in found if not exists(path, ROOT / "docs")} == {
        "triage/none.py",
        "tests/none.py",
        "none/",
    }
