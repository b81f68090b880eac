"""Forecasts of attempts compared with outcomes: the frozen result of a back-test."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from triage.review.forecasts.baselines import BASELINES
from triage.review.forecasts.calibration import CalibrationTest, calibration_test
from triage.review.forecasts.decision_value import DecisionScore
from triage.review.forecasts.interval_coverage import PromiseCheck
from triage.review.forecasts.paired_bootstrap import Difference, mean_difference
from triage.review.forecasts.reliability import ReliabilityBin, Share, bin_of, reliability, wilson
from triage.review.forecasts.scores import (
    BrierParts,
    brier_parts,
    brier_score,
    joint_log_penalties,
    log_score,
)

FORECASTERS = ("model", *BASELINES)


@dataclass(frozen=True)
class Scores:
    """Penalties, lower is better.

    brier, log : mean over attempts, given the job's earlier outcomes.
    joint_log : mean over jobs, of all outcomes of a job together.
    """

    brier: float
    log: float
    joint_log: float


@dataclass(frozen=True)
class Block:
    """Jobs taken in after `origin`, up to `until`, forecast from what was known at `origin`.

    used : "fit", or what stood in for a fit that failed: "the fit before", "belief only".
    failures : why the fit failed; empty when it passed.
    """

    origin: date
    until: date
    past_jobs: int
    past_attempts: int
    jobs: int
    attempts: int
    used: str
    failures: tuple[str, ...]
    scores: dict[str, Scores]


@dataclass(frozen=True)
class Group:
    """Attempts of one family, or one quarter: how many, the model's mean forecast, and what happened."""

    name: str
    attempts: int
    forecast: float
    happened: Share
    scores: dict[str, Scores]


@dataclass(frozen=True)
class Backtest:
    """A back-test as a page or a command shows it.

    forecasts : DataFrame, one row an attempt in order of the record: `block`,
        `job`, `date` (intake), `finding`, `family`, `severity`, `method`,
        `second_try`, `fixed`, and a chance by each of `FORECASTERS`.
    scores : by forecaster.
    gains : joint log penalty of a baseline less the model's, a job, by
        baseline; above 0 where the model is better. 90 % interval, jobs drawn.
    parts, bins, calibration, families : of the model's chances.
    decision : None when the record cannot say.
    lacks : what the record does not hold, and what that leaves out.
    alarms : the drift alarms for these forecasts.
    promises : forecasts of minutes and margins, compared with outcomes; () where the record has none.
    """

    as_of: date
    seed: int
    jobs: int
    attempts: int
    failed_fits: int
    forecasts: pd.DataFrame
    blocks: tuple[Block, ...]
    scores: dict[str, Scores]
    gains: dict[str, Difference]
    parts: BrierParts
    bins: tuple[ReliabilityBin, ...]
    calibration: CalibrationTest
    families: tuple[Group, ...]
    decision: DecisionScore | None = None
    lacks: tuple[str, ...] = ()
    alarms: tuple[Any, ...] = field(default=())
    promises: tuple[PromiseCheck, ...] = ()


def scores_of(forecasts: pd.DataFrame) -> dict[str, Scores]:
    """Scores of every forecaster on a table of forecasts, or on some of its rows."""
    fixed, job = forecasts["fixed"].to_numpy(), pd.factorize(forecasts["job"])[0]
    found = {}
    for name in FORECASTERS:
        chance = forecasts[name].to_numpy()
        joint = joint_log_penalties(chance, fixed, job)
        found[name] = Scores(brier_score(chance, fixed), log_score(chance, fixed), float(joint.mean()))
    return found


def joint_gains(forecasts: pd.DataFrame, seed: int) -> dict[str, Difference]:
    """Joint log penalty of every baseline less the model's, a job, paired by job."""
    fixed, job = forecasts["fixed"].to_numpy(), pd.factorize(forecasts["job"])[0]
    joint = {name: joint_log_penalties(forecasts[name].to_numpy(), fixed, job) for name in FORECASTERS}
    return {name: mean_difference(joint[name] - joint["model"], seed) for name in BASELINES}


def families_of(forecasts: pd.DataFrame) -> tuple[Group, ...]:
    """Scores by family, the one with most attempts first."""
    return tuple(sorted(groups_of(forecasts, "family"), key=lambda group: -group.attempts))


def groups_of(forecasts: pd.DataFrame, column: str) -> list[Group]:
    """Scores of the attempts that share a label, in order of the labels."""
    groups = []
    for name, rows in forecasts.groupby(column, sort=True):
        happened = wilson(int(rows["fixed"].sum()), len(rows))
        groups.append(Group(str(name), len(rows), float(rows["model"].mean()), happened, scores_of(rows)))
    return groups


def summarise(
    forecasts: pd.DataFrame,
    blocks: tuple[Block, ...],
    as_of: date,
    seed: int,
    replicated: tuple[np.ndarray, np.ndarray] | None = None,
    **more: Any,
) -> Backtest:
    """Score a table of forecasts.

    Parameters
    ----------
    replicated : `calibration.z_terms` of replicated outcomes, each shape (replicate,).
    more : further fields of `Backtest`.
    """
    chance, fixed = forecasts["model"].to_numpy(), forecasts["fixed"].to_numpy()
    return Backtest(
        as_of=as_of,
        seed=seed,
        jobs=int(forecasts["job"].nunique()),
        attempts=len(forecasts),
        failed_fits=sum(bool(block.failures) for block in blocks),
        forecasts=forecasts,
        blocks=blocks,
        scores=scores_of(forecasts),
        gains=joint_gains(forecasts, seed),
        parts=brier_parts(chance, fixed, bin_of(chance)),
        bins=reliability(chance, fixed),
        calibration=calibration_test(chance, fixed, replicated),
        families=families_of(forecasts),
        **more,
    )
