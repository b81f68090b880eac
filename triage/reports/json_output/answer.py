"""An assessment as one JSON object, for other programs."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import Any

from triage.domain.catalogue import Catalogue
from triage.policy.answer.assessment import Assessment, Branch, PlanRoute, PlanStep, Verdict
from triage.reports.wording.branch import condition_words, end_words
from triage.reports.wording.plan import first_check_words, if_not_words, step_words, stop_words

SCHEMA = 1


def assessment_object(
    assessment: Assessment, catalogue: Catalogue, invented: tuple[str, ...] = ()
) -> dict[str, Any]:
    """Build the object: the answer unrounded, whether it is a go, its steps and the first check in words.

    Parameters
    ----------
    invented : the shop's books that are the shipped, invented ones.
    """
    told: dict[str, Any] = {
        "schema": SCHEMA,
        "go": assessment.verdict is Verdict.TAKE,
        "invented": list(invented),
    }
    for name, value in asdict(assessment).items():
        if name == "stops_at_once":
            told["stop_words"] = stop_words(assessment, catalogue)
        elif name == "steps":
            told["steps"] = [
                _step_object(step, assessment.plan_route, catalogue) for step in assessment.steps_now
            ]
        else:
            told[name] = value
    return {**told, "first_check": first_check_words(assessment, catalogue)}


def _step_object(step: PlanStep, route: PlanRoute, catalogue: Catalogue) -> dict[str, Any]:
    told = asdict(step)
    return {
        "kind": step.kind,
        "text": step_words(step, catalogue),
        "minutes": step.minutes,
        "chance": step.chance,
        "if_not": if_not_words(step, catalogue, route),
        **{name: told[name] for name in ("stop_point", "parts", "cautions", "verify")},
        "branches": [_branch_object(branch, step, route, catalogue) for branch in step.branches],
    }


def _branch_object(branch: Branch, step: PlanStep, route: PlanRoute, catalogue: Catalogue) -> dict[str, Any]:
    return {
        "condition": condition_words(branch, step, catalogue),
        "chance": branch.chance,
        "steps": [_step_object(later, route, catalogue) for later in branch.steps],
        "end": branch.end,
        "end_text": end_words(branch, step, route),
        "rejoins": branch.rejoins,
        "ending": [_step_object(later, route, catalogue) for later in branch.ending],
    }


def as_json(value: dict[str, Any]) -> str:
    """Write an object as JSON text; numbers stay numbers, and only finite ones pass."""
    return json.dumps(value, indent=2, ensure_ascii=False, allow_nan=False, default=_plain)


def _plain(value: Any) -> Any:
    """Turn a NumPy scalar or array into Python's own kind."""
    return value.tolist()
