"""The shipped result of simulation-based calibration, and whether it still speaks of these models.

References
----------
Talts, Betancourt, Simpson, Vehtari and Gelman 2018, Validating Bayesian inference algorithms
with simulation-based calibration, arXiv:1804.06788 (from memory).
"""

from __future__ import annotations

import ast
import hashlib
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import triage.outcome_models
from triage.shipped import shipped

CALIBRATION = "models/calibration.json"

SUCCESS_PARTS = ("../priors/kind_beliefs.py", "fresh_kernel.py", "likelihood_op.py")


@dataclass(frozen=True)
class Calibration:
    """What calibration says of one model.

    words : one sentence. good : None where nothing can be said.
    """

    words: str
    good: bool | None


def calibrations(models: tuple[str, ...], path: Path | None = None) -> dict[str, Calibration]:
    """What the result file says of each model; that it is missing, where it says nothing."""
    try:
        told = json.loads((path or shipped(CALIBRATION)).read_text(encoding="utf-8"))
        held = dict(told["models"])
    except (OSError, ValueError, KeyError, TypeError):
        told, held = {}, {}
    return {model: _of(model, held.get(model), told) for model in models}


def _of(model: str, result: Any, told: dict[str, Any]) -> Calibration:
    if not isinstance(result, dict) or not result.get("quantities"):
        return Calibration("No calibration result is shipped for this model.", None)
    structure = result.get("structure", told.get("structure", ""))
    if structure != model_structure(model):
        return Calibration(
            "Not yet repeated for this version of the model; the last result is of an earlier one.", None
        )
    shops, quantities = int(result.get("shops", 0)), result["quantities"]
    outside = [str(one["name"]) for one in quantities if not one["inside_band"]]
    where = f"In {shops:,} simulated shops ({told.get('made', 'no date')})"
    failed = int(result.get("failed", 0))
    fits = (
        "1 fit that did not converge counts"
        if failed == 1
        else f"{failed:,} fits that did not converge count"
    )
    also = f"; {fits} against it" if failed else ""
    if outside:
        said = f"{where} the credible intervals failed for {', '.join(outside)}{also}."
        return Calibration(said, False)
    fine = f"{where} the credible intervals of all {len(quantities)} checked quantities held the true values"
    if not result.get("passed"):
        return Calibration(f"{fine}, but so few shops show little{also}.", None)
    return Calibration(f"{fine} as often as stated{also}.", True)


def model_structure(model: str) -> str:
    """Digest of a model's code, comments and docstrings left out; "" for a model that is not there.

    The calibration stores it beside its result.
    """
    folder = Path(triage.outcome_models.__path__[0])
    text = ""
    for file in (f"{model}.py", *(SUCCESS_PARTS if model == "success" else ())):
        try:
            tree = ast.parse((folder / file).read_text(encoding="utf-8"))
        except OSError:
            return ""
        for node in ast.walk(tree):
            body = getattr(node, "body", None)
            if isinstance(body, list) and len(body) > 1 and _is_text(body[0]):
                del body[0]
        text += ast.unparse(tree)
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def _is_text(node: ast.AST) -> bool:
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
