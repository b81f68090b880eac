"""Chances of recorded attempts as they would have been forecast, draw by draw.

Each attempt is forecast given the earlier outcomes of its own job: a success
before it raises its chance, a failure lowers it.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import xarray as xr
from scipy.special import expit

from triage.arrays import Floats
from triage.design_matrix import attempt_labels
from triage.domain.catalogue import Catalogue
from triage.prediction.success import scenarios, success_logits

NODES = 11


def attempt_chances(
    draws: xr.Dataset, table: pd.DataFrame, catalogue: Catalogue, shares: Floats | None = None
) -> Floats:
    """Chance of every attempt given the earlier ones of its job.

    Parameters
    ----------
    draws : stored success draws.
    table : as made by `design_matrix.attempts`, or whole jobs of it with their index.
    shares : ndarray, shape (attempt, 3), chance of each severity on the bench where it is
        not known yet (`prediction.intake_grade.bench_shares`); None where `severity` is right.

    Returns
    -------
    ndarray, shape (draw, attempt)
    """
    played = scenarios(draws, NODES)
    fixed = table["fixed"].to_numpy(bool)
    if shares is None:
        grades, shares = [table], np.ones((len(table), 1))
    else:
        grades = [table.assign(severity=grade) for grade in (1, 2, 3)]
    logits = [success_logits(draws, catalogue, *attempt_labels(one)) for one in grades]  # (draw, attempt)
    place = {index: number for number, index in enumerate(table.index)}
    after = [place.get(index, -1) for index in table["after"]]
    result = np.empty(logits[0].shape)
    told: dict[int, Floats] = {}
    for rows in table.reset_index(drop=True).groupby("job", sort=False).indices.values():
        if len(rows) == 1:
            fresh = np.stack([expit(one[:, rows[0]]) for one in logits])  # (grade, draw)
            result[:, rows[0]] = shares[rows[0]] @ fresh
            continue
        weight = played.weights.reshape(-1, NODES)  # (draw, node)
        for row in rows:
            # A failure of the same finding has said something of its severity.
            share = told.pop(after[row], shares[row][:, None, None])  # (grade, draw or 1, node or 1)
            each = np.stack([played.chance(one[:, row]).reshape(weight.shape) for one in logits])
            chance = (share * each).sum(axis=0)
            left = share * (1 - each)
            # Where a failure is beyond rounding, nothing follows from it.
            told[row] = left / np.maximum(left.sum(axis=0), np.finfo(float).tiny)
            result[:, row] = (weight * chance).sum(axis=1) / weight.sum(axis=1)
            weight = weight * (chance if fixed[row] else 1 - chance)
    return result
