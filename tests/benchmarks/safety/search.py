"""How often plans of random units break a safety rule, judged by the independent checker.

`python -m tests.benchmarks.safety.search NAME [--units N] [--first SEED]` writes
`tests/benchmarks/results/safety-NAME.json`: by rule, how many units broke it, with the
first few of each as drawn; and whether the rules are too strict: of the units that a
technician would call repairable (`repairable`, written without the table), how many keep a
plan that may end in a sale or a return. Run by hand; the units come from
`tests/policy/safety/units.py`; unit N is always the same.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections import Counter, defaultdict
from dataclasses import replace
from pathlib import Path

from tests.policy.safety.units import CATALOGUE, Case, Plain, checked, planned, random_case
from triage.errors import PlanTooLargeError

RESULTS = Path(__file__).parent.parent / "results"
MOST_SHOWN = 2


def repairable(case: Case) -> bool:
    """Whether a technician would say that it can be repaired, at any cost.

    The battery is not reacting, and each damage has work that closes it. Common practice, no source.
    """
    kinds = [CATALOGUE.kinds[finding.kind] for finding in case.unit.findings]
    needed = [kind for kind in kinds if kind.needed and kind.role == "repair"]
    return (
        case.unit.battery != "reacting"
        and not case.unit.symptoms
        and all(CATALOGUE.repairs_for(kind.slug) for kind in needed)
    )


def keeps_a_plan(case: Case) -> bool:
    """Whether its plan may end well if the unit costs almost nothing and its sale or repair pays well."""
    price = 1.0 if case.owned else 5_000.0
    rich = replace(case, price=price, unit=replace(case.unit, working_price=50_000.0))
    _, _, plan = planned(rich)
    return plan.chance_finished > 0.0


def search(first: int, count: int) -> dict[str, object]:
    """Check `count` units from seed `first` on."""
    broken: Counter[str] = Counter()
    shown: defaultdict[str, list[str]] = defaultdict(list)
    states = too_large = mendable = kept = 0
    stopped: list[int] = []
    begun = time.perf_counter()
    for seed in range(first, first + count):
        case = random_case(Plain(seed))
        try:
            check = checked(case)
        except PlanTooLargeError:
            too_large += 1
            continue
        found = {breach.rule: str(breach) for breach in check.breaches()}
        broken.update(list(found))
        states += check.states
        if repairable(case):
            mendable += 1
            if keeps_a_plan(case):
                kept += 1
            else:
                stopped.append(seed)
        for rule, words in found.items():
            if len(shown[rule]) < MOST_SHOWN:
                shown[rule].append(f"seed {seed}: {words}")
    return {
        "units": count - too_large,
        "too large to plan": too_large,
        "states": states,
        "seconds": round(time.perf_counter() - begun, 1),
        "units that broke a rule": dict(broken.most_common()),
        "examples": dict(sorted(shown.items())),
        "repairable by hand": mendable,
        "of these keep a plan": kept,
        "share": round(kept / max(mendable, 1), 4),
        "stopped, the first seeds": stopped[:10],
    }


def main() -> None:
    """Search, print and store the result."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("name")
    parser.add_argument("--units", type=int, default=1000)
    parser.add_argument("--first", type=int, default=0)
    given = parser.parse_args()
    result = search(given.first, given.units)
    text = json.dumps(result, indent=1)
    (RESULTS / f"safety-{given.name}.json").write_text(text + "\n", encoding="utf-8")
    sys.stdout.write(text + "\n")


if __name__ == "__main__":
    main()
