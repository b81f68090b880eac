"""Fit the success model to random plain files: `python -m tests.benchmarks.fitting.plain_files --files 10`.

Each file has a random size, number of families, kinds (some rare), technicians and
span of time, and one or several findings a job; some have everything fixed, some
nothing. Truths are not drawn from the model's prior. `results/plain-files.json`
says of each whether the gate accepts its fit; all must be.
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

from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import DamageKind, Family
from triage.domain.history import History
from triage.inference.sampling import SamplerSettings, fit_model
from triage.outcome_models import success
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
            works = rng.random() < 1 / (1 + np.exp(-level[kind] - skill[by] - luck))
            works = works if outcome == "usual" else outcome == "all fixed"
            rows.append((f"j{job}", day, f"kind-{kind}", "fixed" if works else "not-fixed", f"t{by}"))
    table = pd.DataFrame(rows, columns=["job", "date", "finding", "outcome", "technician"])
    table["date"] = pd.Timestamp(LAST) - pd.to_timedelta(table["date"], unit="D")
    like = {"jobs": jobs, "rows": len(rows), "families": families, "kinds": kinds, "several": several}
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
    found = []
    for seed in range(given.first, given.first + given.files):
        history, catalogue, like = plain_file(seed)
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
            }
        )
        sys.stderr.write(json.dumps(found[-1]) + "\n")
    accepted = sum(one["accepted"] for one in found)
    RESULTS.write_text(
        json.dumps({"files": len(found), "accepted": accepted, "each": found}, indent=1) + "\n"
    )
    sys.stdout.write(f"{accepted} of {len(found)} accepted\n")


if __name__ == "__main__":
    main()
