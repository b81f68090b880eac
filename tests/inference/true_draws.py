"""Draws that all hold the true values of `small_shop`: what a fit to infinite data would store."""

from __future__ import annotations

import numpy as np
import xarray as xr
from scipy.special import logit

from tests.outcome_models import small_shop as shop
from triage.domain.catalogue import Catalogue
from triage.priors.hidden_fault import pair_label, raising_pairs

DRAWS = 300


def true_draws(catalogue: Catalogue) -> dict[str, xr.Dataset]:
    """By model, its stored variables, each the same in every draw."""
    kinds = [kind.slug for kind in catalogue.kind]
    families = list(dict.fromkeys(kind.family for kind in catalogue.kind))
    hidden = [kind.slug for kind in catalogue.hidden_kinds]
    pairs = [pair_label(*pair) for pair in raising_pairs(catalogue)]

    def all_at(value, **levels):
        shape = (DRAWS, *(len(labels) for labels in levels.values()))
        return xr.DataArray(np.broadcast_to(value, shape).copy(), dims=("draw", *levels), coords=levels)

    found = {
        "success": {
            "kind_logit": all_at(logit(0.8), kind=kinds),
            "severity_effect": all_at(0.0, kind=kinds, severity=["1", "2", "3"]),
            "family_effect": all_at(0.0, family=families),
            "job_sd": all_at(1e-6),
            "after_failure": all_at(1.0),
        },
        "hidden_fault": {
            "base": all_at(shop.BASE_LOG_ODDS, hidden_kind=hidden),
            "weight": all_at(shop.WEIGHT, pair=pairs),
        },
        "bench_minutes": {
            "log_minutes": all_at(np.log(shop.MINUTES), kind=kinds),
            "severity_step": all_at(shop.SEVERITY_STEP, step=["1 to 2", "2 to 3"]),
            "failed_effect": all_at(shop.FAILED, family=families),
            "spread": all_at(shop.SPREAD),
            "tail_share": all_at(1e-9),
            "tail_shift": all_at(1.0),
            "tail_spread": all_at(0.5),
        },
        "parts_cost": {
            "log_ratio": all_at(shop.LOG_PARTS_RATIO, family=families),
            "spread": all_at(shop.PARTS_SPREAD, family=families),
            "bought_again": all_at(1e-9),
        },
        "comeback": {
            "log_rate": all_at(np.log(shop.HAZARD), family=families),
            "later": all_at(shop.LATER, later_piece=["31 to 90", "91 on"]),
        },
        "sale_price": {
            "level": all_at(0.0),
            "first_drop": all_at(shop.DROP),
            "second_drop": all_at(shop.DROP),
            "spread": all_at(shop.SALE_SPREAD),
            "tier_effect": all_at(list(shop.TIER_EFFECT.values()), tier=list(shop.TIER_EFFECT)),
        },
    }
    return {name: xr.Dataset(variables) for name, variables in found.items()}
