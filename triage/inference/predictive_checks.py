"""Posterior predictive checks: how a record lies among records replicated from its own fit.

From each stored draw a record of the same size is replicated, and figures that matter to the
bench are read off both. All in NumPy, from stored draws. A figure whose record lies far outside
what is replicated is one that the model does not describe, however well its chains mixed.

References
----------
Gelman, Meng and Stern 1996, Posterior predictive assessment of model fitness via realized
discrepancies, Statistica Sinica 6:733 (the check, and its tail share: from memory); Dawid 1984,
Statistical theory: the prequential approach, JRSS A 147:278 (each outcome given those before it,
which holds whatever rule stopped the work: from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import xarray as xr

from triage.domain.catalogue import Catalogue
from triage.domain.history import History
from triage.inference import replicated_attempts, replicated_jobs, replicated_ratios
from triage.inference.replicated import Replicated
from triage.posterior.interval import interval
from triage.posterior.manifest import PredictiveCheck
from triage.priors.prior_set import PriorSet

# Records replicated; each figure's 90 % interval is then known to about a twentieth of its width.
RECORDS = 500

_FIGURES: dict[str, Callable[..., list[Replicated]]] = {
    "success": replicated_attempts.repairs_fixed,
    "bench_minutes": replicated_attempts.minutes_spent,
    "hidden_fault": replicated_jobs.faults_found,
    "comeback": replicated_jobs.comebacks,
    "parts_cost": replicated_ratios.parts_paid,
    "sale_price": replicated_ratios.prices_fetched,
}


def predictive_checks(
    model: str, history: History, catalogue: Catalogue, priors: PriorSet, draws: xr.Dataset, seed: int
) -> tuple[PredictiveCheck, ...]:
    """Compare a record with records replicated from a model's draws.

    Parameters
    ----------
    model : name in the registry; one that has no figures gives none.
    draws : stored draws of that model, fitted to this history.
    """
    if model not in _FIGURES:
        return ()
    few = np.linspace(0, draws.sizes["draw"] - 1, min(RECORDS, draws.sizes["draw"])).round().astype(int)
    rng = np.random.default_rng([seed, len(few)])
    figures = _FIGURES[model](history, catalogue, priors, draws.isel(draw=few), rng)
    return tuple(_check(figure) for figure in figures)


def _check(figure: Replicated) -> PredictiveCheck:
    replicated = np.asarray(figure.replicated, float)
    low, high = interval(replicated)
    beyond = replicated - figure.observed
    near = np.abs(beyond) <= 1e-9 * (1 + abs(figure.observed))
    values: dict[str, Any] = {
        "observed": figure.observed,
        "low": low,
        "high": high,
        "tail": ((beyond > 0) & ~near).mean() + near.mean() / 2,
        "total": figure.total,
    }
    rounded = {name: round(float(value), 4) for name, value in values.items()}
    return PredictiveCheck(quantity=figure.quantity, unit=figure.unit, **rounded)
