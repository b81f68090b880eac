"""The floors of the house: what may import what, read off the syntax tree of every file."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PACKAGE = ROOT / "triage"
# Top of the house first: a floor may import only those above it.
FLOORS = (
    "errors", "shipped", "domain", "priors", "posterior", "ledger", "design_matrix", "policy",
    "outcome_models", "prediction", "inference", "elicitation", "lot_selection", "review", "reports",
    "workflows", "cli", "app_pages",
)  # fmt: skip
# Samplers belong to the fit, Streamlit to the pages.
HOMES = {
    "pymc": {"outcome_models", "inference", "elicitation"},
    "pytensor": {"outcome_models", "inference", "elicitation"},
    "arviz": {"outcome_models", "inference", "elicitation"},
    "nutpie": {"outcome_models", "inference", "elicitation"},
    "streamlit": {"app_pages"},
}
MOST_LINES = 350
FILES = sorted(path for path in PACKAGE.rglob("*.py") if "_shipped" not in path.parts)


def floor(module: str) -> str:
    return module.split(".")[1] if "." in module else module


def imports(path: Path):
    """(line, module) of every import in a file, those inside functions too."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            yield node.lineno, node.module or ""
            # `from triage.workflows import fit` names a module as well.
            yield from ((node.lineno, f"{node.module}.{alias.name}") for alias in node.names)


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(ROOT)))
def test_imports_go_up(path):
    here = path.relative_to(PACKAGE).with_suffix("").parts[0]
    if path == PACKAGE / "__init__.py":
        assert not path.read_text().strip()
        return
    assert here in FLOORS, f"{here} has no floor"
    for line, module in imports(path):
        top = module.split(".")[0]
        if top in HOMES:
            assert here in HOMES[top], f"{path.name}:{line} imports {top} on floor {here}"
        if top == "triage" and "." in module:
            other = floor(module)
            if other in FLOORS:
                assert FLOORS.index(other) <= FLOORS.index(here), (
                    f"{path.name}:{line} imports {module} from above"
                )


def test_no_circles_inside_a_floor():
    graph: dict[str, set[str]] = {}
    for path in FILES:
        name = "triage." + ".".join(path.relative_to(PACKAGE).with_suffix("").parts)
        graph[name] = {module for _, module in imports(path) if module.startswith("triage.")}
    done: set[str] = set()

    def visit(module: str, trail: tuple[str, ...]) -> None:
        assert module not in trail, " -> ".join((*trail, module))
        if module in done or module not in graph:
            return
        for other in sorted(graph[module]):
            visit(other, (*trail, module))
        done.add(module)

    for module in sorted(graph):
        visit(module, ())


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(ROOT)))
def test_files_stay_readable(path):
    assert len(path.read_text(encoding="utf-8").splitlines()) <= MOST_LINES
    if path.name == "__init__.py":
        assert not path.read_text().strip()


def test_what_is_handed_on_cannot_be_changed():
    """Dataclasses are frozen, but a search under way and an open transaction."""
    for path in FILES:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ClassDef) and node.name not in ("_Search", "Change"):
                for how in map(ast.unparse, node.decorator_list):
                    assert not how.startswith("dataclass") or "frozen=True" in how, f"{path.name} {node.name}"


def test_the_invented_shop_knows_only_the_domain():
    for path in sorted((ROOT / "synthetic_cases").glob("*.py")):
        for line, module in imports(path):
            if module.startswith("triage"):
                assert module.startswith(("triage.domain", "triage.errors")), f"{path.name}:{line} {module}"


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
