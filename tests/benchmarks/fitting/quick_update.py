"""Time of a quick update with one day's jobs: `python -m tests.benchmarks.fitting.quick_update`.

Copies the demo's stored draws, appends jobs of the invented shop with another seed to the
demo's past jobs, and runs `triage fit --quick` on both in its own process, which reads,
weights and stores. It reports wall-clock time and processor time; other work on the machine
does not lengthen the latter.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from datetime import date
from pathlib import Path

import pandas as pd

from synthetic_cases.generate import generate_history
from synthetic_cases.truth import load_truth
from triage.shipped import shipped
from triage.workflows.shop.shop import DEMO_POSTERIOR, DEMO_PRIORS

RESULT = Path(__file__).parents[1] / "results" / "quick-update.json"
DATES = ("date", "closed", "sold_date", "comeback_date")
SEED, JOBS, FIRST_DAY = 77, 20, date(2026, 9, 1)


def new_jobs(jobs: int = JOBS, seed: int = SEED, first: date = FIRST_DAY) -> pd.DataFrame:
    """Jobs of the invented shop by another seed, moved so that one is closed on each day from `first` on."""
    table = generate_history(load_truth(), seed, 4 * jobs)
    table = table[table["closed"] != ""]
    held = list(dict.fromkeys(table["job"]))[:jobs]
    table = table[table["job"].isin(held)].reset_index(drop=True)
    place = table["job"].map({job: at for at, job in enumerate(held)})
    moved = pd.Timestamp(first) + pd.to_timedelta(place, unit="D") - pd.to_datetime(table["closed"])
    for name in DATES:
        told = pd.to_datetime(table[name].where(table[name] != "", None)) + moved
        table[name] = told.dt.strftime("%Y-%m-%d").fillna("")
    return table.assign(job="new-" + table["job"])


def measure(jobs: int) -> dict[str, object]:
    """Run the update once and read its report."""
    with tempfile.TemporaryDirectory() as name:
        out, record = Path(name) / "learned", Path(name) / "jobs.csv"
        shutil.copytree(shipped(DEMO_POSTERIOR), out)
        past = shipped("synthetic_cases/past-jobs.csv").read_text(encoding="utf-8")
        more = new_jobs(jobs)
        last = more["closed"].max()
        text = more.to_csv(index=False, header=False, float_format="%.2f", lineterminator="\n")
        record.write_text(past + text, encoding="utf-8")
        command = [
            "fit", "--quick", "--past-jobs", str(record), "--as-of", last, "--out", str(out),
            "--priors", str(shipped(DEMO_PRIORS)), "--json",
        ]  # fmt: skip
        before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.monotonic()
        done = subprocess.run(
            [sys.executable, "-c", "from triage.cli.main import run; run()", *command],
            capture_output=True,
            text=True,
            check=False,
        )
        wall, after = time.monotonic() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    if not done.stdout:
        raise SystemExit(done.stderr)
    told = json.loads(done.stdout)
    return {
        "jobs": jobs,
        "wall_seconds": round(wall, 2),
        "processor_seconds": round(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, 2),
        "machine_load": round(os.getloadavg()[0], 1),
        "added": told["added"],
        "updated": told["updated"],
        "models": {
            name: {"pareto_k": round(one["pareto_k"], 2), "effective": round(one["effective"])}
            for name, one in told["models"].items()
        },
    }


def main() -> None:
    """Measure, print and store the result."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, nargs="+", default=[JOBS])
    options = parser.parse_args()
    found = [measure(jobs) for jobs in options.jobs]
    text = json.dumps({"invented": True, "seed": SEED, "runs": found}, indent=1) + "\n"
    RESULT.write_text(text, encoding="utf-8")
    sys.stdout.write(text)


if __name__ == "__main__":
    main()
