"""Every outcome model by name; adding one is adding a line here."""

from __future__ import annotations

from triage.outcome_models import bench_minutes, comeback, hidden_fault, parts_cost, sale_price, success
from triage.outcome_models.base import OutcomeModel
from triage.posterior.manifest import Manifest

MODELS: dict[str, OutcomeModel] = {
    model.name: model
    for model in (
        success.MODEL,
        hidden_fault.MODEL,
        bench_minutes.MODEL,
        parts_cost.MODEL,
        comeback.MODEL,
        sale_price.MODEL,
    )
}


def older_forms(manifest: Manifest) -> list[str]:
    """Models that have changed since the draws were fitted, by name."""
    return [
        name
        for name in manifest.models
        if name in MODELS and manifest.forms.get(name, 1) != MODELS[name].form
    ]
