"""Forecasts of a job's attempts, each given the outcomes before it, and of all of them at once.

Success draws are weighted by the chance they gave to the earlier outcomes, so
a success raises the chance of the next repair and a failure lowers it: the
ratio W(after) / W(before) by which the plan reckons too. The forecasts of a
job multiply to the joint chance of all its outcomes.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd
import xarray as xr

from triage.arrays import Floats, Ints
from triage.design_matrix import FACTORS, attempt_labels
from triage.domain.catalogue import Catalogue
from triage.prediction.success import scenarios, success_logits

JOB_NODES = 15
REPLICATE_NODES = 7


def job_forecasts(by_draw: Floats, table: pd.DataFrame) -> Floats:
    """Chance of each attempt given the earlier outcomes of its job, all draws together, shape (attempt,).

    Parameters
    ----------
    by_draw : ndarray, shape (draw, attempt), as made by `attempt_chances`.
    table : the attempts, as made by `design_matrix.attempts`.
    """
    fixed = table["fixed"].to_numpy(bool)
    found = np.empty(len(table))
    for rows in _by_job(table):
        weights = np.full(len(by_draw), 1 / len(by_draw))
        for row in rows:
            found[row] = weights @ by_draw[:, row]
            weights = weights * (by_draw[:, row] if fixed[row] else 1 - by_draw[:, row])
            weights = weights / weights.sum()
    return found


def all_fixed_chances(
    draws: xr.Dataset, table: pd.DataFrame, catalogue: Catalogue, by_intake: Floats
) -> pd.Series:
    """Chance that every repair of a job works, each tried once, by job.

    Parameters
    ----------
    draws : stored success draws.
    table : the repairs; columns `job`, `kind`, `severity` at intake, tier, technician, cause, `method`.
    by_intake : as made by `IntakeGradePriors.shares`.
    """
    made, jobs = scenarios(draws, JOB_NODES), table["job"].drop_duplicates()
    shares = by_intake[table["severity"].to_numpy(int) - 1]  # (repair, grade)
    labels = ("kind", "severity", *FACTORS, "method")
    logits = [
        success_logits(draws, catalogue, *(one[name].tolist() for name in labels))
        for one in (table.assign(severity=grade) for grade in (1, 2, 3))
    ]

    def works(row: int) -> Floats:
        graded = (share * made.chance(one[:, row]) for share, one in zip(shares[row], logits, strict=True))
        total: Floats = np.sum(list(graded), axis=0)
        return total

    chances = [made.weights @ np.prod([works(row) for row in rows], axis=0) for rows in _by_job(table)]
    return pd.Series(chances, index=jobs.to_numpy(), dtype=float)


def replicated_forecasts(
    draws: xr.Dataset,
    table: pd.DataFrame,
    catalogue: Catalogue,
    replicates: int,
    seed: int,
    most_draws: int = 400,
) -> tuple[Floats, Floats]:
    """Outcomes drawn from the fit itself, and the forecasts that they would have met.

    One draw of the parameters serves a whole replicate, so its jobs hang
    together as those of the record do. A second try whose first try works in a
    replicate is not made there.

    Parameters
    ----------
    table : the attempts, as made by `design_matrix.attempts`.
    most_draws : draws kept, evenly spaced, for the forecasts of replicates.

    Returns
    -------
    chance, fixed : ndarray, shape (replicate, attempt); NaN where not made.
    """
    kept = np.linspace(0, draws.sizes["draw"] - 1, min(draws.sizes["draw"], most_draws)).round().astype(int)
    few = draws.isel(draw=kept)
    made = scenarios(few, REPLICATE_NODES)
    logits = success_logits(few, catalogue, *attempt_labels(table))
    after = table["after"].to_numpy(int)
    rng = np.random.default_rng(seed)
    chosen = rng.integers(0, len(kept), replicates)
    chance, fixed = np.full((2, replicates, len(table)), np.nan)
    for rows in _by_job(table):
        # The truth of a replicate's job is one scenario of its draw.
        node = rng.choice(REPLICATE_NODES, replicates, p=made.weights[:REPLICATE_NODES] * len(kept))
        truth = chosen * REPLICATE_NODES + node
        weights = np.tile(made.weights, (replicates, 1))  # (replicate, scenario)
        for row in rows:
            happens = np.ones(replicates, bool) if after[row] < 0 else fixed[:, after[row]] == 0
            each = made.chance(logits[:, row])  # (scenario,)
            works = rng.random(replicates) < each[truth]
            chance[:, row] = np.where(happens, weights @ each, np.nan)
            fixed[:, row] = np.where(happens, works, np.nan)
            weights = np.where(happens[:, None], weights * np.where(works[:, None], each, 1 - each), weights)
            weights /= weights.sum(axis=1, keepdims=True)
    return chance, fixed


def _by_job(table: pd.DataFrame) -> Iterator[Ints]:
    """Yield the positions of each job's rows, in order."""
    for rows in table.reset_index(drop=True).groupby("job", sort=False).indices.values():
        yield np.asarray(rows)
