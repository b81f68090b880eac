"""Draws of every model made with NumPy, as a fit would store them."""

from __future__ import annotations

import numpy as np
import xarray as xr

from triage.domain.catalogue import Catalogue
from triage.posterior.manifest import Manifest, ModelRecord, structure_digest
from triage.posterior.store import Posterior
from triage.prediction.forecast import MODELS
from triage.priors.hidden_fault import pair_label, raising_pairs

TIERS = ("budget", "middle", "upper", "top")


def made_posterior(catalogue: Catalogue, draws: int = 4000, seed: int = 3) -> Posterior:
    """Return draws scattered about plain values, for every kind of a catalogue."""
    rng = np.random.default_rng(seed)
    kinds = [kind.slug for kind in catalogue.kind]
    families = list(dict.fromkeys(kind.family for kind in catalogue.kind))
    hidden = [kind.slug for kind in catalogue.hidden_kinds]
    pairs = [pair_label(*pair) for pair in raising_pairs(catalogue)]
    others = sorted({r.slug for kind in kinds for r in catalogue.repairs_for(kind)[1:]})

    def about(centre, sd, **levels):
        shape = (draws, *(len(labels) for labels in levels.values()))
        values = centre + sd * rng.standard_normal(shape)
        return xr.DataArray(values, dims=("draw", *levels), coords=levels)

    step = np.exp(about(-0.4, 0.1, kind=kinds).values)
    severity = np.stack([step, np.zeros_like(step), -step], axis=-1)
    by_model = {
        "success": {
            "kind_logit": about(1.4, 0.4, kind=kinds),
            "severity_effect": xr.DataArray(
                severity,
                dims=("draw", "kind", "severity"),
                coords={"kind": kinds, "severity": ["1", "2", "3"]},
            ),
            "tier_effect": about(0.0, 0.1, tier=list(TIERS)),
            "method_effect": about(-0.3, 0.4, method=others),
            "family_effect": about(0.0, 0.2, family=families),
            "job_sd": abs(about(0.7, 0.05)),
            "after_failure": abs(about(1.0, 0.2)),
        },
        "hidden_fault": {"base": about(-3.0, 0.3, hidden_kind=hidden), "weight": about(1.5, 0.3, pair=pairs)},
        "bench_minutes": {
            "log_minutes": about(3.3, 0.2, kind=kinds),
            "severity_step": abs(about(0.2, 0.02, step=["1 to 2", "2 to 3"])),
            "method_effect": about(0.1, 0.1, method=others),
            "failed_effect": about(0.3, 0.05, family=families),
            "spread": abs(about(0.35, 0.02)),
            "tail_share": abs(about(0.07, 0.005)),
            "tail_shift": about(0.8, 0.05),
            "tail_spread": abs(about(0.5, 0.02)),
        },
        "parts_cost": {
            "log_ratio": about(0.03, 0.02, family=families),
            "spread": abs(about(0.15, 0.01, family=families)),
            "bought_again": abs(about(0.01, 0.001)),
        },
        "comeback": {
            "log_rate": about(-4.0, 0.2, family=families),
            "later": about(-0.9, 0.1, later_piece=["31 to 90", "91 on"]),
        },
        "sale_price": {
            "level": about(-0.02, 0.01),
            "first_drop": abs(about(0.15, 0.02)),
            "second_drop": abs(about(0.15, 0.03)),
            "spread": abs(about(0.1, 0.01)),
            "tier_effect": about(0.0, 0.02, tier=list(TIERS)),
            "tier_drop": about(0.0, 0.05, tier=list(TIERS)),
        },
    }
    record = ModelRecord(belief_only=False, passed=True)
    manifest = Manifest(
        seed=seed, as_of="2026-08-31", jobs=100, rows=300, data_hash="", prior_hash="", catalogue_digest="",
        structure=structure_digest(catalogue), kinds=tuple(kinds), models=dict.fromkeys(MODELS, record),
        attempts={kind: ((2, 2), (6, 5), (2, 1)) for kind in kinds}, label="made by hand", current=True,
        draws=draws,
    )  # fmt: skip
    return Posterior({name: xr.Dataset(found) for name, found in by_model.items()}, manifest)
