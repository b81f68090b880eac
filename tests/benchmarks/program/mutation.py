"""Mutation tests: do the tests detect a wrong program? `python -m tests.benchmarks.program.mutation`.

Mutants (a `<` that becomes `<=`, a 1 that becomes 2) of the policy, the prediction and the
review are generated. Each file gets a share in proportion to its places, with one mutant
per place, drawn at random. Each mutant runs the quick tests that cover its line, the
quickest first; one has to fail. Not mutated: type hints, decorators except their arguments,
and raised errors. Nothing on disk changes: a child process reads the mutant in place of the
file. A mutant that uses `CPU_SECONDS` of processor time is timed out, which counts as
killed. Written to `results/mutation.json`.

Run by hand; needs `pip install cosmic-ray==8.7.0 pytest-cov`; the first is not a dependency of
the project. The first run measures which tests cover which line; the second tries mutants
for `--minutes`, in random order. `--again TESTS` tries the survivors with the named tests:
new ones, or slower ones. The reason why a survivor is acceptable is written into the file
by hand (`why`).
"""

from __future__ import annotations

import argparse
import collections
import importlib.util
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from importlib.machinery import SourceFileLoader
from multiprocessing import get_context
from pathlib import Path

import pytest

from tests.benchmarks.program.mutation_draw import ROOT, Times, all_mutants, drawn, tests_for

RESULTS = Path(__file__).parents[1] / "results" / "mutation.json"
SCRATCH = Path(tempfile.gettempdir()) / "mutation-baseline"
TESTS = ("tests/policy", "tests/gold", "tests/prediction", "tests/review")
PYTEST = ("-x", "-q", "-m", "not slow and not browser", "-p", "no:cacheprovider", "--hypothesis-seed=0",
          "-W", "ignore::pytest.PytestAssertRewriteWarning")  # fmt: skip
CPU_SECONDS = 60
# Read once, before forking: nothing here imports what is mutated.
HEAVY = (
    "scipy.stats scipy.optimize pandas pymc hypothesis.strategies sqlalchemy triage.ledger.reading "
    "triage.priors.prior_set triage.posterior.store triage.design_matrix"
).split()


def measure() -> None:
    """Measure how long each test takes, and which tests cover each line."""
    SCRATCH.mkdir(exist_ok=True)
    os.environ["COVERAGE_FILE"] = str(SCRATCH / "coverage")
    times, cov = Times(), ("--cov=triage", "--cov-context=test", "--cov-report=")
    if pytest.main([*PYTEST, *cov, *TESTS], plugins=[times]) != 0:
        sys.exit("The tests fail without any mutant.")
    (SCRATCH / "seconds.json").write_text(json.dumps(times.seconds))
    sys.exit("Measured; now run the command again.")


def child(file: str, source: str, tests: list[str]) -> None:
    """Run the tests with the mutant in place of its file; the exit code gives the outcome."""
    resource.setrlimit(resource.RLIMIT_CPU, (CPU_SECONDS, CPU_SECONDS))
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    os.dup2(1, 2)
    target, plain = str(ROOT / file), SourceFileLoader.get_data

    def get_data(self, path: str) -> bytes:
        if path == importlib.util.cache_from_source(target):
            raise OSError("not the compiled file")
        return source.encode() if path == target else plain(self, path)

    SourceFileLoader.get_data = get_data
    os._exit(int(pytest.main([*PYTEST, *tests])))


def outcome(mutant: dict, tests: list[str]) -> dict:
    """Outcome of a mutant: killed, timed out, survived, not covered."""
    from cosmic_ray.mutating import mutate_code
    from cosmic_ray.plugins import get_operator

    plain = (ROOT / mutant["file"]).read_text()
    source = mutate_code(plain, get_operator(mutant["operator"])(), mutant["occurrence"])
    was, became = next((a, b) for a, b in zip(plain.split("\n"), source.split("\n"), strict=False) if a != b)
    code = 0
    if tests:
        process = get_context("fork").Process(target=child, args=(mutant["file"], source, tests))
        process.start()
        process.join()
        code = process.exitcode
    came = "timed out" if code < 0 else "killed" if code else "survived" if tests else "not covered"
    sys.stderr.write(f"{came} {mutant['file']} {mutant['line']}\n")
    return {**mutant, "outcome": came, "was": was.strip(), "became": became.strip()}


def main() -> None:
    """Draw mutants, try them and write the results."""
    options = argparse.ArgumentParser()
    for name, default in (("sample", 170), ("seed", 1), ("minutes", 60)):
        options.add_argument(f"--{name}", type=int, default=default)
    options.add_argument("--again", nargs="+", metavar="TESTS")
    chosen = options.parse_args()
    os.chdir(ROOT)
    for name in HEAVY:
        importlib.import_module(name)
    if chosen.again:
        kept = json.loads(RESULTS.read_text())
        came = [outcome(mutant, chosen.again) for mutant in kept["survivors"]]
        kept["killed_since"] += [m for m in came if m["outcome"] in ("killed", "timed out")]
    else:
        if not (SCRATCH / "seconds.json").exists():
            measure()
        from coverage import CoverageData

        seconds = json.loads((SCRATCH / "seconds.json").read_text())
        data = CoverageData(str(SCRATCH / "coverage"))
        data.read()
        lines = {str(Path(f).relative_to(ROOT)): data.contexts_by_lineno(f) for f in data.measured_files()}
        mutants, came, end = all_mutants(SCRATCH), [], time.monotonic() + 60 * chosen.minutes
        sample = drawn(mutants, chosen.sample, chosen.seed)
        for mutant in sample:
            if time.monotonic() < end:
                came.append(outcome(mutant, tests_for(mutant, seconds, lines)))
        head = subprocess.run(["git", "rev-parse", "HEAD"], capture_output=True, text=True, check=True).stdout
        count = collections.Counter(m["outcome"] for m in came)
        kept = {
            "tool": "cosmic-ray 8.7.0",
            "command": " ".join(["python -m tests.benchmarks.program.mutation", *sys.argv[1:]]),
            "seed": chosen.seed,
            "commit": head.strip(),
            "generated": len(mutants),
            "sampled": len(sample),
            "tried": len(came),
            "killed": count["killed"],
            "timed_out": count["timed out"],
            "survived": count["survived"] + count["not covered"],
            "killed_since": [],
        }
    kept["survivors"] = [m for m in came if m["outcome"] in ("survived", "not covered")]
    RESULTS.write_text(json.dumps(kept, indent=1) + "\n")


if __name__ == "__main__":
    main()
