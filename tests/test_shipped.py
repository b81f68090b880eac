"""The wheel contains all data that the program reads."""

from __future__ import annotations

import ast
import tomllib
from pathlib import Path

ROOT = Path(__file__).parent.parent


def named_data():
    """Every path under models/ or synthetic_cases/ that a file of the program names."""
    for path in sorted((ROOT / "triage").rglob("*.py")):
        if "_shipped" not in path.parts:
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                words = node.value if isinstance(node, ast.Constant) else None
                if isinstance(words, str) and words.startswith(("models/", "synthetic_cases/")):
                    yield words


def test_data_that_the_program_names_are_in_the_wheel():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    wheel = project["tool"]["hatch"]["build"]["targets"]["wheel"]["force-include"]
    named = set(named_data())
    assert {"synthetic_cases/lot.csv", "synthetic_cases/past-jobs.csv"} <= named
    for name in named:
        assert any(name == kept or name.startswith(f"{kept}/") for kept in wheel), name
    for kept, place in wheel.items():
        assert place == f"triage/_shipped/{kept}"
