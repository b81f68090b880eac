"""Forecasts that need no model of the shop: what a review holds the model against.

None of them knows a job effect: their chance for all repairs of a job is the
product of the single ones.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from triage.design_matrix import FACTORS, AttemptDesign
from triage.priors.success import SuccessPriors
from triage.review.ridge import fit_ridge_by_cross_validation, indicators

BASELINES = {
    "overall": "the rate of all past attempts",
    "raw": "the past rate of the damage kind, (fixed + 1/2) / (attempts + 1)",
    "beta": "the past rate of the damage kind, begun with the shop's belief as so many jobs",
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
    priors : beliefs, for `beta`.
    """
    labels = (table[name].tolist() for name in ("kind", "severity", *FACTORS, "method"))
    rows = past.levels.indices(*labels)
    kinds = past.coords["kind"]
    tried = np.bincount(past.indices.kind, minlength=len(kinds))
    fixed = np.bincount(past.indices.kind, weights=past.fixed, minlength=len(kinds))
    beliefs = [priors.belief(kind) for kind in kinds]
    worth = np.array([belief.jobs for belief in beliefs])
    believed = worth * np.array([belief.chance for belief in beliefs])
    ridge = fit_ridge_by_cross_validation(indicators(past.levels, past.indices), past.fixed, past.job)
    return {
        "overall": np.full(len(rows.kind), (fixed.sum() + 0.5) / (tried.sum() + 1)),
        "raw": ((fixed + 0.5) / (tried + 1))[rows.kind],
        "beta": ((fixed + believed) / (tried + worth))[rows.kind],
        "ridge": ridge.chances(indicators(past.levels, rows)),
    }
