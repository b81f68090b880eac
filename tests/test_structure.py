"""Structure of the program: sizes, package docstrings, frozen results. For layers see `lint-imports`."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
MOST_LINES, MOST_MODULES = 350, 15
FILES = sorted(path for path in (ROOT / "triage").rglob("*.py") if "_shipped" not in path.parts)
FOLDERS = sorted({path.parent for path in FILES})
# Mutable on purpose: an open transaction and a running search.
_MUTABLE = {"JobChange", "_CutSearch"}


def name(path: Path) -> str:
    return str(path.relative_to(ROOT))


@pytest.mark.parametrize("folder", FOLDERS, ids=name)
def test_a_package_has_a_docstring_and_few_modules(folder):
    tree = ast.parse((folder / "__init__.py").read_text(encoding="utf-8"))
    assert ast.get_docstring(tree)
    assert not any(isinstance(node, ast.ImportFrom) for node in tree.body), "a package re-exports nothing"
    assert len([path for path in folder.glob("*.py") if path.name != "__init__.py"]) <= MOST_MODULES


@pytest.mark.parametrize("path", FILES, ids=name)
def test_a_file_stays_readable(path):
    assert len(path.read_text(encoding="utf-8").splitlines()) <= MOST_LINES


def test_dataclasses_are_frozen():
    for path in FILES:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ClassDef) and node.name not in _MUTABLE:
                for how in map(ast.unparse, node.decorator_list):
                    assert not how.startswith("dataclass") or "frozen=True" in how, f"{path.name} {node.name}"


@pytest.mark.slow
def test_an_answer_never_loads_a_sampler():
    script = (
        "import sys\n"
        "from triage.workflows.answers.assess import assess\n"
        "from triage.workflows.shop.shop import open_shop\n"
        "from triage.domain.units.unit import Finding as F, Unit\n"
        "assess(Unit('u', 'middle', (F('frame-bent'), F('touch-fault'))), open_shop(), ask=10.0)\n"
        "loaded = {'pymc', 'pytensor', 'arviz', 'nutpie', 'numba', 'streamlit'} & set(sys.modules)\n"
        "sys.exit(', '.join(sorted(loaded)) or 0)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, cwd=ROOT, check=False
    )
    assert done.returncode == 0, done.stderr
