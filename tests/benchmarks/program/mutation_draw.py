"""Which mutants are tried, and with which tests, for `mutation.py`."""

from __future__ import annotations

import ast
import collections
import random
from pathlib import Path

ROOT = Path(__file__).parents[3]
MUTATED = ("triage/policy", "triage/prediction", "triage/review")
QUICK_SECONDS, BUDGET_SECONDS = 6.0, 20.0


class Times:
    """Seconds of each test, for pytest."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = collections.defaultdict(float)

    def pytest_runtest_logreport(self, report) -> None:
        self.seconds[report.nodeid] += report.duration


def beside_the_point(source: str) -> list[tuple]:
    """Spans of type hints and of raised errors."""
    parts = [getattr(node, name, None) for node in ast.walk(ast.parse(source))
             for name in ("annotation", "returns", "exc")]  # fmt: skip
    return [((p.lineno, p.col_offset), (p.end_lineno, p.end_col_offset)) for p in parts if p is not None]


def all_mutants(scratch: Path) -> list[dict]:
    """Every mutant of the tool except in hints, decorators and error texts."""
    from cosmic_ray.commands import init
    from cosmic_ray.work_db import WorkDB, use_db

    files = sorted(path.relative_to(ROOT) for folder in MUTATED for path in (ROOT / folder).glob("*.py"))
    with use_db(str(scratch / "mutants.sqlite"), WorkDB.Mode.create) as store:
        init(files, store, {})
        made = [item.mutations[0] for item in store.work_items]
    beside = {file: beside_the_point((ROOT / file).read_text()) for file in files}
    return [{"file": str(m.module_path), "operator": m.operator_name, "occurrence": m.occurrence,
             "line": m.start_pos[0], "column": m.start_pos[1]}
            for m in made if "RemoveDecorator" not in m.operator_name
            and not any(a <= m.start_pos < b for a, b in beside[Path(m.module_path)])]  # fmt: skip


def drawn(mutants: list[dict], size: int, seed: int) -> list[dict]:
    """About `size` mutants in random order, one per place; each file has its share, at least one."""
    rng, places = random.Random(seed), collections.defaultdict(lambda: collections.defaultdict(list))
    for mutant in mutants:
        places[mutant["file"]][mutant["line"], mutant["column"]].append(mutant)
    total = sum(map(len, places.values()))
    found = [rng.choice(here[place]) for file, here in sorted(places.items())
             for place in rng.sample(sorted(here), max(1, round(size * len(here) / total)))]  # fmt: skip
    random.Random(seed).shuffle(found)
    return found


def tests_for(mutant: dict, seconds: dict[str, float], lines: dict) -> list[str]:
    """Quick tests that cover the line: the quickest case of each, then more cases as the budget allows."""
    here = lines.get(mutant["file"], {})
    through = set(here.get(mutant["line"], ())) - {""} or set().union(*here.values())
    quick = sorted((seconds[test], test) for test in {context.split("|")[0] for context in through}
                   if seconds.get(test, 99) <= QUICK_SECONDS)  # fmt: skip
    firsts = sorted({test.split("[")[0]: test for _, test in reversed(quick)}.values(), key=seconds.get)
    chosen, spent = list(firsts), sum(seconds[test] for test in firsts)
    for took, test in quick:
        spent += took if test not in firsts else 0.0
        if test not in firsts and spent <= BUDGET_SECONDS:
            chosen.append(test)
    return chosen
