"""An assessment as one JSON object, for other programs."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import Any

from triage.policy.answer.assessment import Assessment
from triage.reports.wording.step import first_check_words

SCHEMA = 1


def assessment_object(assessment: Assessment, invented: tuple[str, ...] = ()) -> dict[str, Any]:
    """Build the object: every field of `Assessment`, unrounded, whether it is a go, the first check in words.

    Parameters
    ----------
    invented : the shop's books that are the shipped, invented ones.
    """
    return {
        "schema": SCHEMA,
        "go": assessment.verdict == "take it",
        "invented": list(invented),
        **asdict(assessment),
        "first_check": first_check_words(assessment),
    }


def as_json(value: dict[str, Any]) -> str:
    """Write an object as JSON text; numbers stay numbers, and only finite ones pass."""
    return json.dumps(value, indent=2, ensure_ascii=False, allow_nan=False, default=_plain)


def _plain(value: Any) -> Any:
    """Turn a NumPy scalar or array into Python's own kind."""
    return value.tolist()
