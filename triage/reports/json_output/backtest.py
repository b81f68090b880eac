"""A back-test as one JSON object, for other programs, and read back for a page."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date
from typing import Any

import pandas as pd

from triage.domain.history import History
from triage.domain.shop.settings import Settings
from triage.errors import Fault, InputError
from triage.reports.json_output.answer import SCHEMA
from triage.reports.wording.calibration import money_words
from triage.review.drift.detector import Alarm
from triage.review.forecasts.backtest import Backtest, Block, Group, Scores
from triage.review.forecasts.calibration import CalibrationTest
from triage.review.forecasts.decision_value import DecisionScore, VetoResult
from triage.review.forecasts.interval_coverage import PromiseCheck
from triage.review.forecasts.paired_bootstrap import Difference
from triage.review.forecasts.reliability import ReliabilityBin, Share
from triage.review.forecasts.scores import BrierParts


def backtest_object(result: Backtest) -> dict[str, Any]:
    """Build the object: everything but the single forecasts; dates in ISO 8601.

    `scores` are penalties, lower is better; `joint_log_gains` say by how much
    the model beats each baseline in `joint_log`, with 90 % intervals;
    `promises` hold promised minutes and margins against what came.
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
        "promises": [asdict(one) for one in result.promises],
        "families": [asdict(group) for group in result.families],
        "blocks": [asdict(block) for block in result.blocks],
        "decision": None if result.decision is None else asdict(result.decision),
        "alarms": [{**asdict(alarm), "words": alarm.words} for alarm in result.alarms],
        "lacks": list(result.lacks),
    }
    return _dated(found)


def told_backtest(result: Backtest, history: History, books: Settings, invented: bool) -> dict[str, Any]:
    """Build the object with whose record and whose money it speaks of.

    invented : whether the rates and fees are the demo's.
    """
    return {
        **backtest_object(result),
        "record": history.digest,
        "currency": books.currency,
        "money": money_words(books, invented),
    }


def backtest_from(found: dict[str, Any], name: str = "the back-test") -> Backtest:
    """Read such an object back; `forecasts` is empty, all else is as it was.

    Raises
    ------
    InputError : it was written by another version, or is no back-test.
    """
    if found.get("schema") != SCHEMA:
        wrong = f"{found.get('schema')!r} is not the format of this program"
        raise InputError([Fault(name, None, "schema", wrong, str(SCHEMA))])
    try:
        return _read(found)
    except (KeyError, TypeError, ValueError, AttributeError) as problem:
        wrong = f"cannot be read: {problem}"
        raise InputError(
            [Fault(name, None, "result", wrong, "one made by `triage backtest --json`")]
        ) from None


def _read(found: dict[str, Any]) -> Backtest:
    calibration = dict(found["calibration"])
    if calibration["reference"] is not None:
        calibration["reference"] = tuple(calibration["reference"])
    decision = found["decision"]
    return Backtest(
        as_of=date.fromisoformat(found["as_of"]),
        seed=found["seed"],
        jobs=found["jobs"],
        attempts=found["attempts"],
        failed_fits=found["failed_fits"],
        forecasts=pd.DataFrame(),
        blocks=tuple(_block(block) for block in found["blocks"]),
        scores=_scores(found["scores"]),
        gains={name: Difference(**gain) for name, gain in found["joint_log_gains"].items()},
        parts=BrierParts(**found["brier_parts"]),
        bins=tuple(_share(ReliabilityBin, one) for one in found["reliability"]),
        calibration=CalibrationTest(**calibration),
        families=tuple(_share(Group, {**one, "scores": _scores(one["scores"])}) for one in found["families"]),
        decision=None if decision is None else _decision(decision),
        lacks=tuple(found["lacks"]),
        alarms=tuple(_alarm(alarm) for alarm in found["alarms"]),
        promises=tuple(
            PromiseCheck(**{**one, "half": Share(**one["half"]), "ninety": Share(**one["ninety"])})
            for one in found["promises"]
        ),
    )


def _scores(found: dict[str, Any]) -> dict[str, Scores]:
    return {name: Scores(**scores) for name, scores in found.items()}


def _share(kind: Any, found: dict[str, Any]) -> Any:
    return kind(**{**found, "happened": Share(**found["happened"])})


def _block(found: dict[str, Any]) -> Block:
    days = {name: date.fromisoformat(found[name]) for name in ("origin", "until")}
    more = {"failures": tuple(found["failures"]), "scores": _scores(found["scores"])}
    return Block(**{**found, **days, **more})


def _decision(found: dict[str, Any]) -> DecisionScore:
    rules = {name: VetoResult(**rule) for name, rule in found["rules"].items()}
    gains = {name: Difference(**gain) for name, gain in found["gains"].items()}
    return DecisionScore(**{**found, "rules": rules, "gains": gains})


def _alarm(found: dict[str, Any]) -> Alarm:
    days = {name: date.fromisoformat(found[name]) for name in ("since", "seen_on")}
    return Alarm(**{name: value for name, value in found.items() if name != "words"} | days)


def _dated(value: Any) -> Any:
    """Write dates as text, all the way down."""
    if isinstance(value, dict):
        return {key: _dated(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_dated(inner) for inner in value]
    return value.isoformat() if hasattr(value, "isoformat") else value
