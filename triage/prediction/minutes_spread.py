"""Minutes of recorded attempts as they would have been forecast: before it was known whether they work."""

from __future__ import annotations

from functools import cache

import numpy as np
import pandas as pd
import xarray as xr

from triage.arrays import Floats
from triage.domain.catalogue import Catalogue
from triage.policy.answer.promise import LEVELS, mixed_quantiles
from triage.prediction.bench_minutes import attempt_minutes
from triage.priors.bench_minutes import BenchMinutesPriors

PATHS = 1000


def minutes_spread(
    draws: xr.Dataset,
    table: pd.DataFrame,
    chance: Floats,
    catalogue: Catalogue,
    priors: BenchMinutesPriors,
    seed: int = 0,
) -> tuple[Floats, Floats]:
    """Forecast the minutes of attempts, those that work and those that fail mixed by their chance.

    Parameters
    ----------
    draws : of the bench-minutes model.
    table : the attempts, as made by `design_matrix.attempts`.
    chance : ndarray, shape (attempt,), that each works.

    Returns
    -------
    mean : ndarray, shape (attempt,), minutes.
    quantiles : ndarray, shape (attempt, level), at `policy.promise.LEVELS`.
    """
    rng = np.random.default_rng(seed)
    draw = np.linspace(0, draws.sizes["draw"] - 1, PATHS).round().astype(int)
    stuck, within = ((rng.permutation(PATHS) + rng.random(PATHS)) / PATHS for _ in range(2))

    @cache
    def cell(kind: str, severity: int, method: str) -> tuple[Floats, Floats, float, float]:
        both = [
            attempt_minutes(draws, kind, severity, fixed, catalogue, priors, method)
            for fixed in (True, False)
        ]
        sampled = [minutes.sample(draw, stuck, within) for minutes in both]
        return sampled[0], sampled[1], float(both[0].mean().mean()), float(both[1].mean().mean())

    mean, quantiles = np.empty(len(table)), np.empty((len(table), len(LEVELS)))
    labels = zip(table["kind"], table["severity"], table["method"], strict=True)
    for row, (label, works) in enumerate(zip(labels, np.asarray(chance, float), strict=True)):
        fixed, failed, mean_fixed, mean_failed = cell(*label)
        mean[row] = works * mean_fixed + (1 - works) * mean_failed
        quantiles[row] = mixed_quantiles(fixed, failed, works)
    return mean, quantiles
