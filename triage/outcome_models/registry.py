"""Every outcome model by name; adding one is adding a line here."""

from __future__ import annotations

from triage.outcome_models import success
from triage.outcome_models.base import OutcomeModel

MODELS: dict[str, OutcomeModel] = {model.name: model for model in (success.MODEL,)}
