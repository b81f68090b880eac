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


def attempt_chances(draws: xr.Dataset, table: pd.DataFrame, catalogue: Catalogue) -> Floats:
    """Chance of every attempt given the earlier ones of its job.

    Parameters
    ----------
    draws : stored success draws.
    table : as made by `design_matrix.attempts`, or whole jobs of it with their index.

    Returns
    -------
    ndarray, shape (draw, attempt)
    """
    logits = success_logits(draws, catalogue, *attempt_labels(table))  # (draw, attempt)
    played = scenarios(draws, NODES)
    fixed = table["fixed"].to_numpy(bool)
    result = np.empty(logits.shape)
    for rows in table.reset_index(drop=True).groupby("job", sort=False).indices.values():
        if len(rows) == 1:
            result[:, rows[0]] = expit(logits[:, rows[0]])
            continue
        weight = played.weights.reshape(-1, NODES)  # (draw, node)
        for row in rows:
            chance = played.chance(logits[:, row]).reshape(weight.shape)
            result[:, row] = (weight * chance).sum(axis=1) / weight.sum(axis=1)
            weight = weight * (chance if fixed[row] else 1 - chance)
    return result
