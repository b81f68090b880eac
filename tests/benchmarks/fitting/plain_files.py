"""Fit the success model to random plain files: `python -m tests.benchmarks.fitting.plain_files --files 10`.

Each file has a random size, number of families, kinds (some rare), technicians and
span of time, and one or several findings a job; some have everything fixed, some
nothing. Truths are not drawn from the model's prior. `results/plain-files.json`
says of each whether the gate accepts its fit; all must be. It is written file by file,
and a run begins where the last one ended. `covered` counts the kinds whose 90 % interval of
the fresh chance, at the mean of the technicians, contains the truth, where outcomes are usual.

Budget: half a minute a file on two cores, most of it to compile; 100 MB a file.
"""

from __future__ import annotations

import argparse
import json
import sys
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr
from scipy.special import expit, logit

from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import DamageKind, Family
from triage.domain.history import History
from triage.inference.sampling import SamplerSettings, fit_model
from triage.outcome_models import success
from triage.posterior.interval import interval
from triage.priors.fresh_job import fresh_chance
from triage.priors.prior_set import PriorSet

RESULTS = Path(__file__).parents[1] / "results" / "plain-files.json"
LAST = date(2025, 12, 31)


def plain_file(seed: int) -> tuple[History, Catalogue, dict[str, Any]]:
    """A random record, its catalogue and what it is like."""
    rng = np.random.default_rng(seed)
    jobs = int(np.exp(rng.uniform(np.log(30), np.log(3000))))
    families, kinds = int(rng.integers(1, 6)), int(rng.integers(3, 41))
    several, technicians = bool(rng.integers(2)), int(rng.integers(1, 9))
    days = int(rng.choice([80, 365, 2000]))
    outcome = str(rng.choice(["usual", "usual", "usual", "all fixed", "none fixed"]))
    catalogue = Catalogue(
        kind=tuple(DamageKind(f"kind-{k}", f"kind {k}", f"family-{k % families}") for k in range(kinds)),
        family=tuple(Family(f"family-{f}", f"family {f}") for f in range(families)),
    )
    share = rng.permutation(1 / np.arange(1, kinds + 1) ** rng.uniform(0, 2))  # up to very rare kinds
    level = rng.uniform(-1.5, 2) + rng.uniform(-1, 1, kinds) * rng.uniform(0.2, 2)
    skill, job_sd = rng.uniform(-0.6, 0.6, technicians), rng.uniform(0, 2)
    rows = []
    for job in range(jobs):
        day, by, luck = int(rng.integers(days)), int(rng.integers(technicians)), job_sd * rng.normal()
        count = min(1 + rng.poisson(1.2), kinds) if several else 1
        for kind in rng.choice(kinds, count, replace=False, p=share / share.sum()):
            works = rng.random() < expit(level[kind] + skill[by] + luck)
            works = works if outcome == "usual" else outcome == "all fixed"
            rows.append((f"j{job}", day, f"kind-{kind}", "fixed" if works else "not-fixed", f"t{by}"))
    table = pd.DataFrame(rows, columns=["job", "date", "finding", "outcome", "technician"])
    table["date"] = pd.Timestamp(LAST) - pd.to_timedelta(table["date"], unit="D")
    truth = logit(fresh_chance(level + skill.mean(), job_sd)) if outcome == "usual" else None
    like = {
        "truth": truth,
        "jobs": jobs,
        "rows": len(rows),
        "families": families,
        "kinds": kinds,
        "several": several,
    }
    return (
        History(table, LAST),
        catalogue,
        {**like, "technicians": technicians, "days": days, "outcome": outcome},
    )


def main() -> None:
    """Fit the files and write the result."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--files", type=int, default=50)
    parser.add_argument("--first", type=int, default=0)
    given = parser.parse_args()
    found = json.loads(RESULTS.read_text("utf-8"))["each"] if RESULTS.exists() else []
    done = {one["seed"] for one in found}
    for seed in range(given.first, given.first + given.files):
        if seed in done:
            continue
        history, catalogue, like = plain_file(seed)
        truth = like.pop("truth")
        priors = PriorSet()
        made = success.design(history, catalogue, priors)
        assert made is not None
        fitted = fit_model(success.build(made, priors), success.STORED, 1, SamplerSettings())
        told = fitted.diagnostics
        found.append(
            {
                **{"seed": seed, **like, "accepted": not fitted.failures, "retried": told.retried},
                **{"r_hat": round(told.rhat, 4), "effective": round(min(told.ess_bulk, told.ess_tail))},
                **{"divergences": told.divergences, "worst": told.worst, "seconds": told.seconds},
                "covered": None if truth is None else held(fitted.draws["kind_logit"], truth),
            }
        )
        sys.stderr.write(json.dumps(found[-1]) + "\n")
        RESULTS.write_text(json.dumps(summary(found), indent=1) + "\n", encoding="utf-8")
    sys.stdout.write(f"{sum(one['accepted'] for one in found)} of {len(found)} accepted\n")


def held(draws: xr.DataArray, truth: np.ndarray) -> list[int]:
    """How many of the kinds' 90 % intervals contain the truth, and of how many; dimensions (draw, kind)."""
    low, high = interval(draws.sel(kind=[f"kind-{k}" for k in range(len(truth))]).to_numpy())
    return [int(((low <= truth) & (truth <= high)).sum()), len(truth)]


def summary(found: list[dict[str, Any]]) -> dict[str, Any]:
    """Pool the files; the standard error of the coverage counts the kinds of a file as one."""
    counts = np.array([one["covered"] for one in found if one["covered"]], dtype=float).reshape(-1, 2)
    share, files = counts[:, 0].sum() / max(counts[:, 1].sum(), 1), len(counts)
    apart = counts[:, 0] - share * counts[:, 1]
    error = np.sqrt((apart**2).sum() * files / max(files - 1, 1)) / max(counts[:, 1].sum(), 1)
    return {
        "files": len(found),
        "accepted": sum(one["accepted"] for one in found),
        "coverage": round(float(share), 4),
        "coverage_standard_error": round(float(error), 4),
        "each": found,
    }


if __name__ == "__main__":
    main()
