"""Ridge logistic regression of attempts: a plain forecaster to beat.

One indicator a level of every effect, an intercept all but free, and half
the penalty times the sum of squared coefficients on the rest. The penalty is
the one of `PENALTIES` with the best log score in cross-validation on the past
alone: five folds, whole jobs.

References
----------
le Cessie and van Houwelingen 1992, Ridge estimators in logistic regression,
Applied Statistics 41:191.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize
from scipy.special import expit

from triage.design_matrix import AttemptIndices, AttemptLevels
from triage.review.forecasts.scores import log_penalties

PENALTIES = tuple(float(penalty) for penalty in np.logspace(-1, 2, 7))
FOLDS = 5
# Next to no penalty on the intercept, so that a past of one outcome only has an answer too.
_INTERCEPT = 1e-6


@dataclass(frozen=True)
class Ridge:
    """Fitted coefficients: the intercept, and one for each column, shape (column,)."""

    intercept: float
    coefficients: np.ndarray
    penalty: float

    def chances(self, columns: np.ndarray) -> np.ndarray:
        """Chances for rows of indicators, shape (row,)."""
        return expit(self.intercept + columns @ self.coefficients)


def indicators(levels: AttemptLevels, rows: AttemptIndices) -> np.ndarray:
    """One column of 0 and 1 a level of every effect but time, families too; shape (row, column)."""
    index = {name: getattr(rows, name) for name in rows.__dataclass_fields__ if name != "period"}
    index["family"] = levels.family[rows.kind]
    blocks = [
        index[name][:, None] == np.arange(len(levels.coords[name])) for name in index if name in levels.coords
    ]
    return np.hstack(blocks).astype(float)


def fit_ridge(columns: np.ndarray, fixed: np.ndarray, penalty: float) -> Ridge:
    """Fit by maximum penalised likelihood.

    Parameters
    ----------
    columns : ndarray, shape (row, column).
    fixed : ndarray of bool, shape (row,).
    penalty : of the squared coefficients.
    """
    y, design = np.asarray(fixed, float), np.column_stack([np.ones(len(fixed)), columns])
    weight = np.full(design.shape[1], penalty)
    weight[0] = _INTERCEPT

    def loss(point: np.ndarray) -> float:
        linear = design @ point
        return np.logaddexp(0, linear).sum() - y @ linear + weight @ point**2 / 2

    def slope(point: np.ndarray) -> np.ndarray:
        return design.T @ (expit(design @ point) - y) + weight * point

    def curve(point: np.ndarray) -> np.ndarray:
        chance = expit(design @ point)
        return (design.T * (chance * (1 - chance))) @ design + np.diag(weight)

    start = np.zeros(len(weight))
    found = minimize(loss, start, jac=slope, hess=curve, method="trust-exact", options={"gtol": 1e-6})
    return Ridge(float(found.x[0]), found.x[1:], penalty)


def fit_ridge_by_cross_validation(columns: np.ndarray, fixed: np.ndarray, job: np.ndarray) -> Ridge:
    """Choose the penalty on the rows given, then fit them all.

    Parameters
    ----------
    job : ndarray of int, shape (row,); a job's rows stay in one fold.
    """
    fold = job % FOLDS
    present = np.unique(fold)
    totals = []
    for penalty in PENALTIES:
        total = 0.0
        for left in present if len(present) > 1 else ():
            out = fold == left
            made = fit_ridge(columns[~out], fixed[~out], penalty)
            total += log_penalties(made.chances(columns[out]), fixed[out]).sum()
        totals.append(total)
    return fit_ridge(columns, fixed, PENALTIES[int(np.argmin(totals))])
