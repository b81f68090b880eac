"""Stored decisions compared with the outcomes of their jobs."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd

from triage.review.forecasts.backtest import Group, Scores, families_of, groups_of, joint_gains, scores_of
from triage.review.forecasts.calibration import CalibrationTest, calibration_test, z_terms
from triage.review.forecasts.interval_coverage import PromiseCheck
from triage.review.forecasts.paired_bootstrap import Difference
from triage.review.forecasts.reliability import ReliabilityBin, bin_of, reliability
from triage.review.forecasts.scores import BrierParts, brier_parts

REPLICATES = 1000
ESTIMAND = (
    "Only accepted jobs have outcomes, so these scores apply to such devices. They say nothing about "
    "declined devices."
)


@dataclass(frozen=True)
class OutcomeReview:
    """Scores of past decisions.

    forecasts : DataFrame, one row an attempt, with the columns of `Backtest.forecasts`
        (`date` is the day of the decision), `quarter`, and `given_earlier`.
    given_earlier : attempts judged given all earlier outcomes of their job; the
        rest, and every later one of its job, is judged by its chance alone.
    unforeseen : attempts at damage of which the decision said nothing.
    left_out : (why, number of jobs) of the taken and closed jobs that are not judged.
    scores, gains, parts, bins, calibration, families : as in a `Backtest`.
    quarters : the same over time, oldest first.
    promises : of minutes and margins.
    """

    as_of: date
    jobs: int
    attempts: int
    given_earlier: int
    unforeseen: int
    left_out: tuple[tuple[str, int], ...]
    forecasts: pd.DataFrame
    scores: dict[str, Scores]
    gains: dict[str, Difference]
    parts: BrierParts
    bins: tuple[ReliabilityBin, ...]
    calibration: CalibrationTest
    families: tuple[Group, ...]
    quarters: tuple[Group, ...]
    promises: tuple[PromiseCheck, ...]
    estimand: str = ESTIMAND


def _if_right(chance: np.ndarray, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """`z_terms` of outcomes drawn from the chances themselves: also few tries then have a fair reference."""
    drawn = np.random.default_rng(seed).random((REPLICATES, len(chance))) < chance
    return z_terms(np.broadcast_to(chance, drawn.shape), drawn)


def review_outcomes(
    forecasts: pd.DataFrame,
    as_of: date,
    unforeseen: int,
    left_out: tuple[tuple[str, int], ...],
    promises: tuple[PromiseCheck, ...],
    seed: int,
) -> OutcomeReview:
    """Score a table of forecasts; it has one row at least."""
    chance, fixed = forecasts["model"].to_numpy(), forecasts["fixed"].to_numpy()
    quarters = sorted(groups_of(forecasts, "quarter"), key=lambda group: group.name)
    return OutcomeReview(
        as_of=as_of,
        jobs=int(forecasts["job"].nunique()),
        attempts=len(forecasts),
        given_earlier=int(forecasts["given_earlier"].sum()),
        unforeseen=unforeseen,
        left_out=left_out,
        forecasts=forecasts,
        scores=scores_of(forecasts),
        gains=joint_gains(forecasts, seed),
        parts=brier_parts(chance, fixed, bin_of(chance)),
        bins=reliability(chance, fixed),
        calibration=calibration_test(chance, fixed, _if_right(chance, seed)),
        families=families_of(forecasts),
        quarters=tuple(quarters),
        promises=promises,
    )
