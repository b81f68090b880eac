"""How well chains mixed, and the gate a fit must pass.

References
----------
Vehtari, Gelman, Simpson, Carpenter and Burkner 2021, Rank-normalization,
folding, and localization: an improved R-hat, Bayesian Analysis 16:667
(R-hat below 1.01, effective sample size above 400); Betancourt 2016,
arXiv:1604.00695 (the energy fraction of missing information).
"""

from __future__ import annotations

import numpy as np
import xarray as xr

from triage.inference import backend
from triage.posterior.manifest import Diagnostics

MOST_RHAT = 1.01
LEAST_EFFECTIVE_SAMPLE = 400
LEAST_BFMI = 0.3


def diagnose(draws: xr.Dataset, statistics: xr.Dataset) -> Diagnostics:
    """Worst diagnostics over every number of a fit.

    Parameters
    ----------
    draws : dimensions (chain, draw, ...).
    statistics : has `diverging`, and `energy` where the sampler tells it,
        dimensions (chain, draw).
    """
    worst, where, bulk, tail = 0.0, "", np.inf, np.inf
    for name, variable in draws.data_vars.items():
        values = variable.transpose("chain", "draw", ...).to_numpy()
        flat = values.reshape(*values.shape[:2], -1)  # (chain, draw, number)
        for index in range(flat.shape[2]):
            number = flat[:, :, index]
            if np.ptp(number) == 0:  # a constant, such as the reference severity
                continue
            rhat = backend.rank_normalised_rhat(number)
            if not rhat <= worst:  # a nan counts as worst
                worst, where = rhat, f"{name}[{index}]" if flat.shape[2] > 1 else str(name)
            bulk = min(bulk, backend.effective_sample(number))
            tail = min(tail, backend.effective_sample(number, tail=True))
    return Diagnostics(
        rhat=worst,
        ess_bulk=bulk,
        ess_tail=tail,
        divergences=int(statistics["diverging"].sum()),
        bfmi=missing_information(statistics),
        worst=where,
    )


def missing_information(statistics: xr.Dataset) -> float:
    """Energy fraction of missing information of the worst chain; below .3 is bad."""
    if "energy" not in statistics:
        return float("nan")
    energy = statistics["energy"].transpose("chain", "draw").to_numpy()
    return float(((np.diff(energy, axis=1) ** 2).mean(axis=1) / energy.var(axis=1)).min())


def failures(found: Diagnostics) -> list[str]:
    """What keeps a fit from passing the gate, each with what to do; empty when it passes."""
    reasons = []
    if found.divergences:
        reasons.append(f"{found.divergences} divergences (part of the posterior was missed)")
    if not found.rhat <= MOST_RHAT:
        reasons.append(f"R-hat {found.rhat:.3f} at {found.worst}, allowed {MOST_RHAT} (chains disagree)")
    least = min(found.ess_bulk, found.ess_tail)
    if not least >= LEAST_EFFECTIVE_SAMPLE:
        reasons.append(f"effective sample size {least:.0f}, needed {LEAST_EFFECTIVE_SAMPLE} (too few draws)")
    return reasons


ADVICE = (
    "check whether nearly all jobs have the same damage or price class, state stronger assumptions, "
    "or add jobs"
)
