"""Draws of the success model from its prior, in NumPy: what assumptions say before any record.

The same distribution as PyMC's draws of `outcome_models.success` with no rows
(a slow test compares the two), without the seconds its compilation takes.
"""

from __future__ import annotations

import numpy as np
import xarray as xr

from triage.design_matrix import SEVERITIES, attempt_design
from triage.domain.catalogue import Catalogue
from triage.outcome_models.effects import SPREAD_SD
from triage.outcome_models.success import LEVELS_FOR_A_SCALE
from triage.priors.kind_beliefs import kind_beliefs, shared_variance, spread_centre
from triage.priors.prior_set import PriorSet
from triage.priors.success import SeverityBelief

DRAWS = 2000


def success_prior_draws(
    catalogue: Catalogue, priors: PriorSet, draws: int = DRAWS, seed: int = 0
) -> xr.Dataset:
    """Draw what a fit of the success model stores, from the assumptions alone.

    Returns
    -------
    Dataset : dimensions (draw, ...). Tier, technician and cause have no levels
        before there is a record, and so no effect.
    """
    rng = np.random.default_rng(seed)
    beliefs, scales = priors.success, priors.success.scales
    levels = attempt_design(None, catalogue).levels
    believed, family_of = kind_beliefs(catalogue, beliefs), levels.family
    families, kinds = len(levels.coords["family"]), len(levels.coords["kind"])
    job_sd = abs(rng.normal(0, scales.job, draws))
    shop = rng.normal(0, scales.shop, draws)
    kind_spread = np.exp(rng.normal(spread_centre(scales.kind_spread), scales.kind_spread, draws))
    family_sd = np.full(draws, scales.family_fixed)
    if families >= LEVELS_FOR_A_SCALE:
        family_sd = scales.family * np.exp(SPREAD_SD * rng.normal(size=draws))
    family = rng.normal(size=(draws, families)) * family_sd[:, None]
    family -= family.mean(axis=1, keepdims=True)  # a single family is thereby 0
    after_failure = rng.normal(beliefs.after_failure.mean, beliefs.after_failure.sd, draws)
    variance = shared_variance(scales.shop, family_sd if families > 1 else 0.0, families)
    share, own_sd = believed.parts(np.reshape(variance, (-1, 1)), kind_spread[:, None])  # (draw, kind)
    together = shop[:, None] + family[:, family_of]
    kind_logit = believed.mean + share * together + own_sd * rng.normal(size=(draws, kinds))
    held = {
        "kind_logit": (("draw", "kind"), kind_logit),
        "severity_effect": (("draw", "kind", "severity"), _severity(rng, beliefs.severity, family_of, draws)),
        "job_sd": (("draw",), job_sd),
        "after_failure": (("draw",), after_failure),
        "shop": (("draw",), shop),
        "kind_spread": (("draw",), kind_spread),
        "family_effect": (("draw", "family"), family),
        "family_sd": (("draw",), family_sd),
    }
    coords = {name: list(levels.coords[name]) for name in ("kind", "family")} | {"severity": list(SEVERITIES)}
    if "method" in levels.coords:
        told = [priors.repairs.repair_belief(slug) for slug in levels.coords["method"]]
        mean, sd = (np.array([getattr(b, name) for b in told]) for name in ("method_logit", "method_sd"))
        held["method_effect"] = (("draw", "method"), mean + sd * rng.normal(size=(draws, len(told))))
        coords["method"] = list(levels.coords["method"])
    return xr.Dataset(held, coords)


def _severity(
    rng: np.random.Generator, belief: SeverityBelief, family_of: np.ndarray, draws: int
) -> np.ndarray:
    """Effect of each severity on each kind, shape (draw, kind, 3): 0 at severity 2, falling."""
    size = np.log(belief.step) + belief.step_spread * rng.normal(size=(draws, 1, 2))
    own = rng.normal(size=(draws, family_of.max() + 1, 2))[:, family_of]
    kinds = rng.normal(size=(draws, family_of.size, 2))
    step = np.exp(size + belief.family_spread * own + belief.kind_spread * kinds)  # (draw, kind, step)
    return np.stack([step[..., 0], np.zeros(step.shape[:2]), -step[..., 1]], axis=-1)
