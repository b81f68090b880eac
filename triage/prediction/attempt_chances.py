"""Chances of recorded attempts as they would have been forecast, draw by draw.

Each attempt is forecast given the earlier outcomes of its own job: a success
before it raises its chance, a failure lowers it.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import xarray as xr

from triage.design_matrix import FACTORS
from triage.domain.catalogue import Catalogue
from triage.prediction.success import scenarios, success_logits

NODES = 11


def attempt_chances(draws: xr.Dataset, table: pd.DataFrame, catalogue: Catalogue) -> np.ndarray:
    """Chance of every attempt given the earlier ones of its job.

    Parameters
    ----------
    draws : stored success draws.
    table : as made by `design_matrix.attempts`, or whole jobs of it with their index.

    Returns
    -------
    ndarray, shape (draw, attempt)
    """
    labels = (table[name].tolist() for name in ("kind", "severity", *FACTORS, "method"))
    logits = success_logits(draws, catalogue, *labels)  # (draw, attempt)
    played = scenarios(draws, NODES)
    fixed, after = table["fixed"].to_numpy(bool), table.index.get_indexer(table["after"])
    result = np.empty(logits.shape)
    for rows in table.reset_index(drop=True).groupby("job", sort=False).indices.values():
        weight = played.weights.reshape(-1, NODES)  # (draw, node)
        for row in rows:
            if after[row] >= 0:
                chance = played.chance_after(logits[:, after[row]], logits[:, row])
            else:
                chance = played.chance(logits[:, row])
            chance = chance.reshape(weight.shape)
            result[:, row] = (weight * chance).sum(axis=1) / weight.sum(axis=1)
            weight = weight * (chance if fixed[row] else 1 - chance)
    return result
