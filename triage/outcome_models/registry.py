"""Every outcome model by name; adding one is adding a line here."""

from __future__ import annotations

from triage.outcome_models import bench_minutes, comeback, hidden_fault, parts_cost, sale_price, success
from triage.outcome_models.base import OutcomeModel

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
