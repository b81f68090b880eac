"""A back-test as one JSON object, for other programs."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from triage.reports.as_json import SCHEMA
from triage.review.backtest import Backtest


def backtest_object(result: Backtest) -> dict[str, Any]:
    """Build the object: everything but the single forecasts; dates in ISO 8601.

    `scores` are penalties, lower is better; `joint_log_gains` say by how much
    the model beats each baseline in `joint_log`, with 90 % intervals.
    """
    found = {
        "schema": SCHEMA,
        "as_of": result.as_of,
        "seed": result.seed,
        "jobs": result.jobs,
        "attempts": result.attempts,
        "failed_fits": result.failed_fits,
        "scores": {name: asdict(scores) for name, scores in result.scores.items()},
        "joint_log_gains": {name: asdict(gain) for name, gain in result.gains.items()},
        "brier_parts": asdict(result.parts),
        "reliability": [asdict(one) for one in result.bins],
        "spiegelhalter_z": result.calibration.z,
        "calibration": asdict(result.calibration),
        "families": [asdict(group) for group in result.families],
        "blocks": [asdict(block) for block in result.blocks],
        "decision": None if result.decision is None else asdict(result.decision),
        "alarms": [{**asdict(alarm), "words": alarm.words} for alarm in result.alarms],
        "lacks": list(result.lacks),
    }
    return _dated(found)


def _dated(value: Any) -> Any:
    """Write dates as text, all the way down."""
    if isinstance(value, dict):
        return {key: _dated(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_dated(inner) for inner in value]
    return value.isoformat() if hasattr(value, "isoformat") else value
