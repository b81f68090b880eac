"""Our success model, run by `fit_speed`: integrated, or with every job's effect sampled.

The two differ only in the likelihood; priors and effects are the same code, so both have
the same posterior.
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import Any
from unittest.mock import patch

import numpy as np
import pandas as pd

from tests.benchmarks.fitting.fit_speed_sampler import Effort, run
from tests.outcome_models.inside_in_pytensor import inside
from triage.design_matrix import AttemptPatterns
from triage.domain.catalogue import load_catalogue
from triage.domain.history import History
from triage.inference import backend
from triage.inference.diagnostics import diagnose, failures
from triage.ledger.history.history_csv import read_history
from triage.outcome_models import likelihood_op, success
from triage.priors.prior_set import PriorSet, load_priors
from triage.shipped import shipped

NAMES = ("tier_effect", "technician_effect", "cause_effect", "method_effect", "after_failure", "job_sd")


def record(path: Path) -> History:
    """Read a played record."""
    return read_history(path, load_catalogue())


def demo_priors() -> PriorSet:
    """Priors of the invented shop, without the jobs they were tuned on, which the records here share."""
    return load_priors(shipped("models/priors/demo"), load_catalogue())


def rows_of(made: success.SuccessDesign) -> pd.DataFrame:
    """Attempts as a plain table for other programs; `usual` is a kind's usual method."""
    attempts = made.attempts
    indices, coords = attempts.indices, attempts.coords
    table = {"fixed": attempts.fixed.astype(int), "job": attempts.job}
    for name in ("kind", "severity", "tier", "technician", "cause"):
        table[name] = np.array([*coords.get(name, ()), "unknown"])[getattr(indices, name)]
    table["method"] = np.array([*coords.get("method", ()), "usual"])[indices.method]
    table["family"] = np.array(coords["family"])[attempts.levels.family[indices.kind]]
    table["again"] = (attempts.after >= 0).astype(int)
    return pd.DataFrame(table)


def numbers_of(made: success.SuccessDesign) -> Any:
    """Give the reported numbers: logits of recorded kinds at each severity, effects, the job effect's sd."""
    kinds = np.unique(made.attempts.indices.kind)

    def numbers(draws: dict[str, np.ndarray]) -> np.ndarray:
        logits = draws["kind_logit"][..., None] + draws["severity_effect"]  # (chain, draw, kind, severity)
        parts = [logits[:, :, kinds], *(draws[name] for name in NAMES if name in draws)]
        return np.concatenate([part.reshape(*part.shape[:2], -1) for part in parts], axis=2)

    return numbers


def every_job_sampled(logits: Any, sigma: Any, patterns: AttemptPatterns, nodes: np.ndarray) -> Any:
    """Log likelihood of all jobs with each one's effect a number of its own, in units of its sd."""
    import pymc as pm
    import pytensor.tensor as pt

    if not np.array_equal(np.bincount(patterns.job_pattern), patterns.count):
        raise ValueError("weighted jobs have no effect of their own here")
    first, size = patterns.start[patterns.job_pattern], patterns.size[patterns.job_pattern]  # (job,)
    job = np.repeat(np.arange(len(size)), size)
    item = np.arange(len(job)) - np.repeat(np.cumsum(size) - size, size) + np.repeat(first, size)
    effect = pm.Normal("job_unit", 0.0, 1.0, shape=len(size))
    linear = inside(logits, sigma)[patterns.cell[item]] + sigma * effect[job]
    return -pt.softplus(np.where(patterns.fixed[item], -1.0, 1.0) * linear).sum()


def build(form: str, made: success.SuccessDesign) -> Any:
    """The PyMC model of a form."""
    if form == "ours":
        return success.build(made, demo_priors())
    with patch.object(likelihood_op, "log_likelihood", every_job_sampled):
        return success.build(made, demo_priors())


def main() -> None:
    """Time one form on one record and print the report."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("form", choices=("ours", "direct"))
    parser.add_argument("history", type=Path)
    parser.add_argument("--cap", type=float, required=True)
    parser.add_argument("--wall", type=float, required=True)
    parser.add_argument("--seed", type=int, required=True)
    given = parser.parse_args()
    import nutpie

    made = success.design(record(given.history), load_catalogue(), demo_priors())
    assert made is not None
    model = build(given.form, made)

    def compiled() -> Any:
        return nutpie.compile_pymc_model(model, backend="numba")

    report, trace = run(compiled, numbers_of(made), Effort(given.cap, given.wall, given.seed))
    length = {"draw": slice(0, report["draws_a_chain"])}
    draws, statistics = (backend.dataset(trace, part).isel(length) for part in ("posterior", "sample_stats"))
    shared = [name for name in draws if name != "job_unit" and not str(name).endswith("__")]
    everything = diagnose(draws[shared], statistics)
    report["every_number_but_job_effects"] = {
        "rhat": round(everything.rhat, 4), "worst": everything.worst, "bfmi": round(everything.bfmi, 3),
        "least_bulk": round(everything.ess_bulk), "least_tail": round(everything.ess_tail),
        "gate": failures(everything) or "passed",
    }  # fmt: skip
    report["job_sd"] = [round(float(draws["job_sd"].mean()), 4), round(float(draws["job_sd"].std()), 4)]
    json.dump(report, sys.stdout)


if __name__ == "__main__":
    main()
