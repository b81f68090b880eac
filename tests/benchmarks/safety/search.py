"""How often plans of random units break a safety rule, as the independent checker sees it.

`python -m tests.benchmarks.safety.search NAME [--units N] [--first SEED]` writes
`tests/benchmarks/results/safety-NAME.json`: by rule, how many units broke it, with
the first few of each as they were drawn. Run by hand; the units are those of
`tests/policy/safety/units.py`, unit N always the same.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections import Counter, defaultdict
from pathlib import Path

from tests.policy.safety.units import Plain, checked, random_case
from triage.errors import PlanTooLargeError

RESULTS = Path(__file__).parent.parent / "results"
MOST_SHOWN = 2


def search(first: int, count: int) -> dict[str, object]:
    """Check `count` units from seed `first` on."""
    broken: Counter[str] = Counter()
    shown: defaultdict[str, list[str]] = defaultdict(list)
    states = too_large = 0
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
    }


def main() -> None:
    """Search, print and keep the result."""
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
