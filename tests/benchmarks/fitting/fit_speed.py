"""Time to fit the success model, compared with other programs.

`python -m tests.benchmarks.fitting.fit_speed`.

One record of the invented shop per size (1,500, 8,000 and 40,000 jobs in its own three
years; the same damage, methods and chances). Every rival gets the same attempts and runs in
its own process:

- `ours`: the job effect integrated out;
- `direct`: the same model and priors, every job's effect sampled, in units of its sd;
- `bambi`: the nearest formula (`--bambi PYTHON`: an environment that has it; not a dependency);
- `glmer`: the nearest formula, Laplace, no posterior (where R has lme4).

A posterior is sampled until its R-hat is at most 1.01 and 400, then 1,000 effective draws
(bulk and tail, the least of all reported numbers) are there, or a cap is reached. Reported
numbers: the logit of each recorded kind at each severity; effects of tiers, technicians,
causes, methods, of a second try; the job effect's sd. Seconds are half the processor time,
the time on two free cores, so that other work on the machine does not count. (`glmer` and
compiling use one core: theirs are full processor seconds.) Peak memory holds all draws
twice, because chains are inspected during the run; the sampler keeps every sampled number,
including job effects.

Written to `results/fit-speed.json` after every run. Results that exist are not run again
without `--again`. Run by hand.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from synthetic_cases.generate import generate_history, write_history
from synthetic_cases.truth import load_truth
from tests.benchmarks.fitting.fit_speed_forms import demo_priors, record, rows_of
from triage.domain.catalogue import load_catalogue
from triage.inference import backend
from triage.outcome_models import success

RESULTS = Path(__file__).parents[1] / "results" / "fit-speed.json"
HERE = Path(__file__).parent
ROOT = HERE.parents[2]
COMMAND = "python -m tests.benchmarks.fitting.fit_speed"
SIZES = (1500, 8000, 40000)
RIVALS = ("ours", "direct", "bambi", "glmer")
CAPS = {40000: 600.0}
CAP = 300.0
SEED = 20261


def played(jobs: int, folder: Path) -> dict[str, Any]:
    """Simulate a record, write it as our history and as plain rows, and report its contents."""
    truth = load_truth()
    write_history(generate_history(truth, SEED, jobs), folder / "history.csv")
    made = success.design(record(folder / "history.csv"), load_catalogue(), demo_priors())
    assert made is not None
    rows = rows_of(made)
    rows.to_csv(folder / "rows.csv", index=False)
    return {
        "jobs": jobs,
        "jobs_with_an_attempt": len(made.attempts.jobs),
        "attempts": len(rows),
        "patterns": len(made.nodes),
        "kinds": int(rows["kind"].nunique()),
        "true_job_sd": truth.job_effect_sd,
    }


def command(rival: str, folder: Path, cap: float, given: argparse.Namespace) -> list[str] | None:
    """The child's command; None where the rival is not installed."""
    limits = ["--cap", str(cap), "--wall", str(given.wall), "--seed", str(SEED)]
    child = "tests.benchmarks.fit_speed_"
    if rival in ("ours", "direct"):
        return [sys.executable, "-m", f"{child}forms", rival, str(folder / "history.csv"), *limits]
    if rival == "bambi":
        return given.bambi and [given.bambi, "-m", f"{child}bambi", str(folder / "rows.csv"), *limits]
    program = shutil.which("Rscript")
    return program and [program, str(HERE / "fit_speed_glmer.R"), str(folder / "rows.csv")]


def timed(child: list[str]) -> dict[str, Any]:
    """Run a child to its end; its report, and its peak memory."""
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        process = subprocess.Popen(child, cwd=ROOT, stdout=out, stderr=err)
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
        for stream in (out, err):
            stream.seek(0)
        said = out.read().decode()
        if process.returncode or not said:
            return {"failed": process.returncode, "said": err.read().decode()[-600:]}
    memory = round(used.ru_maxrss / 1024**2, 2)  # Linux counts in KiB
    spent = round(used.ru_utime + used.ru_stime, 1)
    return {**json.loads(said), "peak_memory_gib": memory, "processor_seconds_of_everything": spent}


def seconds_to(report: dict[str, Any], target: int = 400) -> float | None:
    """Compile, warm up and sample to a target; None where the cap came first."""
    if report.get("seconds_to", {}).get(str(target)) is None:
        return None
    return round(report["compile_seconds"] + report["seconds_to"][str(target)], 1)


def compared(runs: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """By size: seconds to 400 of every rival, and ours against theirs by effective draws a second."""
    found = []
    for size in sorted({run["jobs"] for run in runs}):
        of = {run["rival"]: run for run in runs if run["jobs"] == size}
        rates = {name: run["least_a_second"] for name, run in of.items() if "least_a_second" in run}
        ours = rates.get("ours")
        found.append({
            "jobs": size,
            "seconds to 400 effective": {
                name: seconds_to(run) if name in rates else run.get("seconds") for name, run in of.items()
            },
            "effective draws a second": rates,
            "ours is times as fast": {
                name: round(ours / rate, 1) for name, rate in rates.items() if ours and rate and rate != ours
            },
        })  # fmt: skip
    return found


def machine() -> dict[str, Any]:
    """The machine it ran on."""
    model = platform.processor() or platform.machine()
    if (info := Path("/proc/cpuinfo")).exists():
        named = [line for line in info.read_text().splitlines() if line.startswith("model name")]
        model = named[0].split(":", 1)[1].strip() if named else model
    return {"cores": os.cpu_count(), "processor": model, "versions": backend.versions()}


def main() -> None:
    """Run everything that has no result yet."""
    parser = argparse.ArgumentParser(prog=COMMAND, description=__doc__)
    parser.add_argument("--sizes", type=int, nargs="+", default=SIZES)
    parser.add_argument("--rivals", nargs="+", default=RIVALS, choices=RIVALS)
    parser.add_argument("--bambi", help="Python of an environment with bambi and nutpie")
    parser.add_argument("--cap", type=float, help="default: 300 seconds; 600 for 40,000 jobs")
    parser.add_argument("--wall", type=float, default=1e9, help="cut a run short after these on the wall")
    parser.add_argument("--again", action="store_true", help="run also what is there")
    parser.add_argument("--out", type=Path, default=RESULTS)
    given = parser.parse_args()
    runs = json.loads(given.out.read_text(encoding="utf-8"))["runs"] if given.out.exists() else []
    for size in given.sizes:
        cap = given.cap or CAPS.get(size, CAP)
        held = {run["rival"] for run in runs if run["jobs"] == size and not (given.again or "failed" in run)}
        with tempfile.TemporaryDirectory() as name:
            wanted = {rival: command(rival, Path(name), cap, given) for rival in given.rivals}
            wanted = {rival: child for rival, child in wanted.items() if child and rival not in held}
            data = played(size, Path(name)) if wanted else {}
            for rival, child in wanted.items():
                found = {
                    "rival": rival,
                    **data,
                    "cap": cap,
                    "load": round(os.getloadavg()[0], 1),
                    **timed(child),
                }
                runs = [run for run in runs if (run["rival"], run["jobs"]) != (rival, size)] + [found]
                runs.sort(key=lambda run: (run["jobs"], RIVALS.index(run["rival"])))
                _write(given.out, runs)
                sys.stderr.write(json.dumps(found) + "\n")


def _write(path: Path, runs: list[dict[str, Any]]) -> None:
    report = {"invented": True, "command": COMMAND, "machine": machine(), "seed": SEED,
              "compared": compared(runs), "runs": runs}  # fmt: skip
    path.parent.mkdir(exist_ok=True)
    temporary = path.with_suffix(".tmp")
    temporary.write_text(json.dumps(report, indent=1) + "\n", encoding="utf-8")
    os.replace(temporary, path)


if __name__ == "__main__":
    main()
