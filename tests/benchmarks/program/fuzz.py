"""Coverage-guided fuzzing of user input, run by hand for a chosen time.

In a temporary environment with the program and `atheris` (Python 3.11):

    python -m tests.benchmarks.program.fuzz --minutes 2

runs every target of `tests/ledger/any_input.py` for that long, each in its own process, and
writes runs and findings to `results/fuzz.json`.
"""

from __future__ import annotations

import argparse
import json
import re
import subprocess
import sys
import tempfile
from pathlib import Path

RESULTS = Path(__file__).parents[1] / "results" / "fuzz.json"
# Only our own readers are fuzzed, not the libraries below them.
_INSTRUMENTED = (
    "triage.ledger",
    "triage.domain",
    "triage.workflows.jobs.import_history",
    "tests.ledger.any_input",
    "csv",
    "tomllib",
)


def fuzz(target: str, arguments: list[str]) -> None:
    """Fuzz one target in this process; a crash ends it with the input in the corpus folder."""
    import atheris

    with atheris.instrument_imports(include=list(_INSTRUMENTED)):
        from tests.ledger.any_input import answers_or_refuses

    atheris.Setup([sys.argv[0], *arguments], lambda data: answers_or_refuses(target, data))
    atheris.Fuzz()


def run(target: str, valid: str, seconds: float) -> dict[str, object]:
    """Run one target and read its figures from the fuzzer's output."""
    with tempfile.TemporaryDirectory() as folder:
        corpus = Path(folder) / "corpus"
        corpus.mkdir()
        (corpus / "valid").write_bytes(valid.encode("cp1252" if target == "sheet" else "utf-8"))
        command = [sys.executable, "-m", "tests.benchmarks.program.fuzz", "--target", target, str(corpus),
                   f"-max_total_time={seconds:.0f}", f"-artifact_prefix={folder}/", "-max_len=4096",
                   "-print_final_stats=1"]  # fmt: skip
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        runs = re.search(r"number_of_executed_units:\s*(\d+)", done.stderr)
        cover = re.findall(r"cov: (\d+)", done.stderr)
        crash = next(Path(folder).glob("crash-*"), None) or next(Path(folder).glob("timeout-*"), None)
        return {
            "runs": int(runs[1]) if runs else 0,
            "branches": int(cover[-1]) if cover else 0,
            "inputs_kept": len(list(corpus.iterdir())),
            "crash": repr(crash.read_bytes()[:400]) if crash else None,
            "said": done.stderr[-1500:] if crash or done.returncode else "",
        }


def main() -> None:
    """Run the command line."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.program.fuzz", description=__doc__)
    parser.add_argument("--minutes", type=float, default=2, help="for each target")
    parser.add_argument("--target", help="fuzz only this one, here; the rest goes to the fuzzer")
    given, rest = parser.parse_known_args()
    if given.target:
        fuzz(given.target, rest)
        return
    from tests.ledger.any_input import TARGETS

    found = {name: run(name, valid, given.minutes * 60) for name, (valid, _) in TARGETS.items()}
    result = {"seconds_each": given.minutes * 60, "targets": found}
    RESULTS.write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")
    sys.stdout.write(json.dumps(result, indent=1) + "\n")


if __name__ == "__main__":
    main()
