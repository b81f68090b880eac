"""Broken devices offered to a shop at a price, what a decision about each earns, and intervals.

Shared by `small_records` and `money_per_decision`. The invented shop pays so little for most of
its devices that buying is obvious, so every price is raised: to twice as much at the median, with
a log-normal spread of .7, fixed before any money was looked at. A device that is not bought earns
nothing.
"""

from __future__ import annotations

import json
import os
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np

from synthetic_cases.truth import Truth
from tests.benchmarks.plans.invented_world import Wreck, wrecks
from triage.policy.answer.verdict import PARTS, TAKE
from triage.workflows.answers.pricing import PricedUnit

RESULTS = Path(__file__).parents[1] / "results"
TODAY = date(2026, 11, 25)
RAISED, SPREAD = 2.0, 0.7
RESAMPLES, ENDS = 4000, (0.05, 0.95)


def offered(truth: Truth, count: int, seed: int) -> list[Wreck]:
    """Bought devices of the invented shop's intake, each asked for at a price of its own."""
    luck = np.random.default_rng([seed, 17]).standard_normal(count)
    return [
        replace(wreck, asked=round(wreck.asked * RAISED * float(np.exp(SPREAD * z)), 2))
        for wreck, z in zip(wrecks(truth, count, seed), luck, strict=True)
    ]


def buys(priced: PricedUnit) -> bool:
    """Whether the verdict is to buy now, to repair it or for its parts; a check first is no purchase."""
    return priced.verdict in (TAKE, PARTS)


def mean_with_interval(values: np.ndarray, seed: int = 1) -> dict[str, float]:
    """Mean over devices with a 90 % interval: bootstrap over devices.

    Parameters
    ----------
    values : ndarray, shape (device,).
    """
    return ratio_with_interval(values[None], np.ones_like(values), seed)


def ratio_with_interval(values: np.ndarray, counts: np.ndarray, seed: int = 1) -> dict[str, float]:
    """Sum of values over sum of counts, with a 90 % interval: bootstrap over runs and over clusters.

    Runs and clusters are drawn apart from each other, since each run met the same clusters.

    Parameters
    ----------
    values : ndarray, shape (run, cluster). counts : shape (cluster,), what a cluster counts for.
    """
    rng, (runs, clusters) = np.random.default_rng(seed), values.shape
    run = rng.multinomial(runs, np.full(runs, 1 / runs), RESAMPLES) / runs  # (resample, run)
    cluster = rng.multinomial(clusters, np.full(clusters, 1 / clusters), RESAMPLES)  # (resample, cluster)
    drawn = (run * (cluster @ values.T)).sum(axis=1) / (cluster @ counts)
    low, high = np.quantile(drawn, ENDS)
    told = {"mean": values.mean(axis=0).sum() / counts.sum(), "low": low, "high": high}
    return {name: round(float(value), 4) for name, value in told.items()}


def written(result: dict[str, Any], path: Path) -> None:
    """Write a result as JSON, whole or not at all."""
    path.parent.mkdir(exist_ok=True)
    temporary = path.with_suffix(".tmp")
    temporary.write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")
    os.replace(temporary, path)
