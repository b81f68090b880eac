"""Seconds of `triage fit` as a new shop meets it: `python -m tests.benchmarks.fitting.cold_fit`.

A record of the invented shop of each size is played and fitted by the command, six models and all checks, in
a fresh process whose folder of compiled code (PyTensor's and numba's: `base_compiledir` and
`NUMBA_CACHE_DIR`) is empty. The same command then runs again, in another process, with that folder as it was
left. Both fits must hold the same draws, byte for byte. `--code DIR` measures the code of another folder.

Seconds are the clock's; the processor's stand beside them, because other work may run on the machine.
Run by hand.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from synthetic_cases.generate import generate_history, write_history
from synthetic_cases.truth import load_truth

HERE = Path(__file__).parents[3]
SIZES, SEED = (53,), 20261


def measured(past_jobs: Path, out: Path, code: Path, compiled: Path) -> dict[str, object]:
    """Run the command once, and tell what it took and what came of it."""
    there = {**os.environ, "PYTHONPATH": str(code), "NUMBA_CACHE_DIR": str(compiled / "numba-own")}
    there["PYTENSOR_FLAGS"] = f"base_compiledir={compiled}"
    command = [sys.executable, "-c", "from triage.cli.main import run; run()", "fit"]
    command += ["--history", str(past_jobs), "--out", str(out), "--json"]
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.monotonic()
    ran = subprocess.run(command, env=there, cwd=code, capture_output=True, text=True)
    seconds, after = time.monotonic() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    if ran.returncode not in (0, 3):  # 3: the gate let nothing through
        raise RuntimeError(ran.stderr)
    answer = json.loads(ran.stdout)
    models = answer["models"]
    draws = sorted(out.rglob("*.nc"))
    return {
        "seconds": round(seconds, 1),
        "processor": round(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, 1),
        "in_use": answer["current"],
        "failed": [name for name, told in models.items() if told.get("refused") or not told["passed"]],
        "retried": [
            n for n, told in models.items() if told["diagnostics"] and told["diagnostics"]["retried"]
        ],
        "model_seconds": {
            n: told["diagnostics"]["seconds"] for n, told in models.items() if told["diagnostics"]
        },
        "draws": hashlib.sha256(b"".join(path.read_bytes() for path in draws)).hexdigest()[:12],
    }


def main() -> None:
    """Measure every size, cold and again, and print a line for each."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sizes", type=int, nargs="+", default=list(SIZES))
    parser.add_argument("--code", type=Path, default=HERE)
    given = parser.parse_args()
    for jobs in given.sizes:
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            write_history(generate_history(load_truth(), SEED, jobs), folder / "past-jobs.csv")
            for what in ("cold", "again"):
                made = measured(
                    folder / "past-jobs.csv", folder / what, given.code.resolve(), folder / "made"
                )
                sys.stdout.write(json.dumps({"jobs": jobs, "fit": what, **made}) + "\n")
                sys.stdout.flush()


if __name__ == "__main__":
    main()
