"""Baselines: simple forecasts that the model is compared with.

None of them knows a job effect: their chance for all repairs of a job is the
product of the single ones.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from triage.design_matrix import FACTORS, AttemptDesign, AttemptIndices
from triage.priors.success import SuccessPriors
from triage.review.forecasts.ridge import Ridge, fit_ridge_by_cross_validation, indicators

BASELINES = {
    "overall": "the rate of all past attempts",
    "raw": "the past rate of the damage kind, (fixed + 1/2) / (attempts + 1)",
    "beta": "the past rate of the damage kind, with the shop's assumption counted as so many jobs",
    "ridge": "ridge logistic regression on every column",
}


def baseline_chances(
    past: AttemptDesign, table: pd.DataFrame, priors: SuccessPriors
) -> dict[str, np.ndarray]:
    """Chances of new attempts by every baseline, each shape (attempt,).

    Parameters
    ----------
    past : attempts known at the time.
    table : the new attempts; columns `kind`, `severity`, tier, technician, cause, `method`.
    priors : assumptions, for `beta`.
    """
    ridge = past_ridge(past)
    return {**past_rates(past, table, priors), "ridge": ridge_chances(ridge, past, table)}


def past_rates(past: AttemptDesign, table: pd.DataFrame, priors: SuccessPriors) -> dict[str, np.ndarray]:
    """The baselines that only count, as `baseline_chances`."""
    rows = _rows(past, table)
    kinds = past.coords["kind"]
    tried = np.bincount(past.indices.kind, minlength=len(kinds))
    fixed = np.bincount(past.indices.kind, weights=past.fixed, minlength=len(kinds))
    beliefs = [priors.belief(kind) for kind in kinds]
    worth = np.array([belief.jobs for belief in beliefs])
    believed = worth * np.array([belief.chance for belief in beliefs])
    return {
        "overall": np.full(len(rows.kind), (fixed.sum() + 0.5) / (tried.sum() + 1)),
        "raw": ((fixed + 0.5) / (tried + 1))[rows.kind],
        "beta": ((fixed + believed) / (tried + worth))[rows.kind],
    }


def past_ridge(past: AttemptDesign) -> Ridge:
    """Fit the ridge logistic regression to what was known."""
    return fit_ridge_by_cross_validation(indicators(past.levels, past.indices), past.fixed, past.job)


def ridge_chances(ridge: Ridge, past: AttemptDesign, table: pd.DataFrame) -> np.ndarray:
    """Chances of new attempts by such a fit, shape (attempt,); `past` tells the levels it was fitted to."""
    return ridge.chances(indicators(past.levels, _rows(past, table)))


def _rows(past: AttemptDesign, table: pd.DataFrame) -> AttemptIndices:
    labels = (table[name].tolist() for name in ("kind", "severity", *FACTORS, "method"))
    return past.levels.indices(*labels)
