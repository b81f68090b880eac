"""A comparison of prior sets as one JSON object, for other programs and for long work."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from triage.reports.json_output.answer import SCHEMA
from triage.review.forecasts.set_comparison import Comparison


def comparison_object(found: Comparison) -> dict[str, Any]:
    """Build the object; penalties are lower where better, dates are ISO 8601."""
    first = found.first.isoformat() if found.first else None
    return {"schema": SCHEMA, **asdict(found), "first": first}
