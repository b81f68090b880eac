"""How likely each stored draw finds recorded jobs, model by model, in NumPy.

The same likelihoods as those the models are fitted with, read from what is
stored, up to a constant that is the same for every draw. They compare draws;
no sampler is needed.

Each model's likelihood is a sum over jobs. So what some jobs add to it is that
of a history of these jobs alone, with one exception: the exposure of a unit
under warranty grows with the as-of date, whether or not its job changed.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import cast

import numpy as np
import pandas as pd
import xarray as xr
from scipy.special import expit

from triage.arrays import Floats
from triage.design_matrix import attempts
from triage.domain.catalogue import Catalogue
from triage.domain.history import History
from triage.outcome_models import comeback, hidden_fault
from triage.outcome_models.attempt_totals import total_over_rows
from triage.outcome_models.bench_minutes import on_the_clock
from triage.outcome_models.parts_cost import purchases
from triage.outcome_models.sale_price import sales
from triage.prediction.attempt_chances import attempt_chances
from triage.prediction.bench_minutes import attempt_minutes
from triage.prediction.hidden_fault import suspected_shift
from triage.prediction.levels import stored, variable
from triage.prediction.parts_cost import parts_log_likelihood
from triage.prediction.sale_price import log_sale_ratio
from triage.priors.prior_set import PriorSet

Likelihood = Callable[[xr.Dataset, History, Catalogue, PriorSet], Floats]
# A chance that rounds to 0 must leave a logarithm.
TINY = 1e-300
# Models whose likelihood of an unchanged job moves with the as-of date.
MOVES_WITH_THE_DAY = frozenset({"comeback"})


def log_likelihood(
    model: str, draws: xr.Dataset, history: History, catalogue: Catalogue, priors: PriorSet
) -> Floats:
    """Log likelihood of a history under each draw of a model, up to a constant.

    Parameters
    ----------
    model : name in the registry of outcome models.
    draws : of that model, as stored.
    priors : those of the fit.

    Returns
    -------
    ndarray, shape (draw,) : 0 where the history tells the model nothing.
    """
    if history.rows.empty:
        return np.zeros(draws.sizes["draw"])
    return _OF[model](draws, history, catalogue, priors)


def _success(draws: xr.Dataset, history: History, catalogue: Catalogue, priors: PriorSet) -> Floats:
    """Each outcome given the earlier ones of its job: together, the job effect integrated out."""
    table = attempts(history, catalogue)
    if table.empty:
        return np.zeros(draws.sizes["draw"])
    if "period" in draws.coords:  # later jobs tell of the last period: a drift since then is not stored
        end = pd.Timestamp(str(draws["period"].values[-1]))
        table["date"] = table["date"].where(table["date"] <= end, end)
    works = attempt_chances(draws, table, catalogue)  # (draw, attempt)
    told = np.where(table["fixed"].to_numpy(bool), works, 1 - works)
    total: Floats = np.log(np.maximum(told, TINY)).sum(axis=1)
    return total


def _hidden_fault(draws: xr.Dataset, history: History, catalogue: Catalogue, priors: PriorSet) -> Floats:
    made = hidden_fault.design(history, catalogue, priors)
    if made is None:
        return np.zeros(draws.sizes["draw"])
    base = (
        variable(draws, "base").sel(hidden_kind=made.coords["hidden_kind"]).transpose("draw", "hidden_kind")
    )
    log_odds: Floats = base.to_numpy()[:, made.hidden]  # (draw, pattern)
    if made.coords["pair"]:
        weight = variable(draws, "weight").sel(pair=made.coords["pair"]).transpose("draw", "pair")
        log_odds = log_odds + weight.to_numpy() @ made.factor.T
    if made.coords["look_reason"]:
        shift = suspected_shift(draws, priors.hidden_fault)
        log_odds = log_odds + shift[:, None] * made.suspected
    found = made.shows * expit(log_odds)
    total: Floats = np.log(np.maximum(found, TINY)) @ made.found
    total = total + np.log(np.maximum(1 - found, TINY)) @ (made.opened - made.found)
    return total


def _bench_minutes(draws: xr.Dataset, history: History, catalogue: Catalogue, priors: PriorSet) -> Floats:
    total = np.zeros(draws.sizes["draw"])
    if not history.has("minutes"):
        return total
    table = attempts(history, catalogue)
    spent = total_over_rows(table, history.rows["minutes"])
    table, spent = table[spent > 0], spent[spent > 0]
    believed = priors.bench_minutes
    read = on_the_clock(spent, believed.give_up_minutes)
    labels = (table[name].tolist() for name in ("kind", "severity", "fixed", "method"))
    for kind, severity, fixed, method, minutes in zip(*labels, read.tolist(), strict=True):
        lasts = attempt_minutes(draws, kind, severity, fixed, catalogue, believed, method)
        total += lasts.log_likelihood(minutes)
    return total


def _log_normal(value: float | Floats, mean: Floats, sd: Floats) -> Floats:
    """Log density of a normal, without its constant."""
    return -0.5 * ((value - mean) / sd) ** 2 - np.log(sd)


def _parts_cost(draws: xr.Dataset, history: History, catalogue: Catalogue, priors: PriorSet) -> Floats:
    total = np.zeros(draws.sizes["draw"])
    for family, ratios in purchases(history, catalogue).groupby("family")["ratio"]:
        total += parts_log_likelihood(draws, str(family), ratios.to_numpy(float))
    return total


def _comeback(draws: xr.Dataset, history: History, catalogue: Catalogue, priors: PriorSet) -> Floats:
    made = comeback.design(history, catalogue, priors)
    if made is None:
        return np.zeros(draws.sizes["draw"])
    log_rate = variable(draws, "log_rate").sel(family=list(made.coords["family"])).transpose("draw", "family")
    rate = np.exp(log_rate.to_numpy())  # (draw, family)
    later = stored(draws, "later", "draw", "later_piece")
    piece = np.column_stack([np.zeros(len(later)), later])  # (draw, piece)
    summed = ((rate @ made.exposure) * np.exp(piece)).sum(axis=1)
    at_event = np.log(rate @ made.event_findings.T) @ made.event_count
    total: Floats = at_event + piece @ made.events - summed
    return total


def _sale_price(draws: xr.Dataset, history: History, catalogue: Catalogue, priors: PriorSet) -> Floats:
    total, spread = np.zeros(draws.sizes["draw"]), stored(draws, "spread")
    if not history.has("sold", "working_price"):
        return total
    for key, ratios in sales(history, catalogue).groupby(["tier", "grade"])["ratio"]:
        tier, grade = cast(tuple[str, int], key)
        mean = log_sale_ratio(draws, tier, grade)[:, None]
        total += _log_normal(ratios.to_numpy(float), mean, spread[:, None]).sum(axis=1)
    return total


_OF: dict[str, Likelihood] = {
    "success": _success,
    "hidden_fault": _hidden_fault,
    "bench_minutes": _bench_minutes,
    "parts_cost": _parts_cost,
    "comeback": _comeback,
    "sale_price": _sale_price,
}
