"""Seconds of a cold fit and of a second fit of other jobs: `python -m tests.benchmarks.fitting.second_fit`.

Two records of the invented shop of each size are played. Each model is fitted to the first, then to the
second, in one process whose folder of compiled code is empty at the start. Another process then fits the
first again with that folder as it was left. A fit is made as the product makes it, without the second try.
Seconds are the clock's; the processor's stand beside them, because other work may run on the machine.
Run by hand.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

SIZES = (53, 1500)
SEEDS = (20261, 20262)


def measured(name: str, jobs: int, seeds: list[int]) -> list[dict[str, float]]:
    """Fit one model to a record of each seed, in this process."""
    import nutpie  # noqa: F401 - loaded before the clock starts
    import pymc  # noqa: F401

    from synthetic_cases.generate import generate_history, write_history
    from synthetic_cases.truth import load_truth
    from tests.benchmarks.fitting.fit_speed_forms import demo_priors, record
    from triage.domain.catalogue import load_catalogue
    from triage.inference import backend
    from triage.inference.sampling import SamplerSettings, fit_model
    from triage.outcome_models.registry import MODELS

    catalogue, priors, model = load_catalogue(), demo_priors(), MODELS[name]
    compiling, found, plain = [], [], backend.compiled

    def timed(graph: object) -> object:
        start = time.monotonic()
        made = plain(graph)
        compiling.append(time.monotonic() - start)
        return made

    backend.compiled = timed
    with tempfile.TemporaryDirectory() as folder:
        for seed in seeds:
            path = Path(folder) / f"{seed}.csv"
            write_history(generate_history(load_truth(), seed, jobs), path)
            design = model.design(record(path), catalogue, priors)
            clock, processor = time.monotonic(), time.process_time()
            built = model.build(design, priors)
            fitted = fit_model(built, model.stored, 3, SamplerSettings(cores=2), retry=False)
            spent = time.monotonic() - clock, time.process_time() - processor
            found.append(
                {
                    "seconds": round(spent[0], 1),
                    "processor": round(spent[1], 1),
                    "compiling": round(compiling.pop(), 1),
                    "least_effective": round(fitted.diagnostics.ess_bulk),
                }
            )
    return found


def main() -> None:
    """Measure every model at every size and print a line for each fit."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("models", nargs="*")
    parser.add_argument("--sizes", type=int, nargs="+", default=list(SIZES))
    parser.add_argument("--here", type=int, nargs="+", help="seeds of one model and size, in this process")
    given = parser.parse_args()
    if given.here:
        sys.stdout.write(json.dumps(measured(given.models[0], given.sizes[0], given.here)) + "\n")
        return
    from triage.outcome_models.registry import MODELS

    for jobs in given.sizes:
        for name in given.models or MODELS:
            with tempfile.TemporaryDirectory() as folder:
                there = {**os.environ, "PYTENSOR_FLAGS": f"base_compiledir={folder}"}
                fits = []
                for seeds in (SEEDS, SEEDS[:1]):
                    child = [sys.executable, "-m", "tests.benchmarks.fitting.second_fit", name]
                    child += ["--sizes", str(jobs), "--here", *map(str, seeds)]
                    run = subprocess.run(child, env=there, capture_output=True, text=True, check=True)
                    fits += json.loads(run.stdout.splitlines()[-1])
            for what, fit in zip(("cold", "second", "another process"), fits, strict=True):
                sys.stdout.write(json.dumps({"jobs": jobs, "model": name, "fit": what, **fit}) + "\n")
                sys.stdout.flush()


if __name__ == "__main__":
    main()
