"""Scores of forecasts of binary outcomes: Brier score, its parts, log loss.

All are penalties: 0 is perfect, lower is better.

References
----------
Brier 1950, Verification of forecasts expressed in terms of probability, Monthly
Weather Review 78:1; Murphy 1973, A new vector partition of the probability
score, Journal of Applied Meteorology 12:595; Stephenson, Coelho and Jolliffe
2008, Two extra components in the Brier score decomposition, Weather and
Forecasting 23:752 (what binning leaves over).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

# No chance counts as surer than this: a single "certain" miss would cost an infinite score.
_SUREST = 1e-12


def brier_score(chance: np.ndarray, happened: np.ndarray) -> float:
    """Mean squared distance of chances from outcomes.

    Parameters
    ----------
    chance : ndarray, shape (forecast,).
    happened : ndarray of bool, shape (forecast,).
    """
    return float(np.mean((np.asarray(chance, float) - np.asarray(happened, float)) ** 2))


def log_penalties(chance: np.ndarray, happened: np.ndarray) -> np.ndarray:
    """Minus the log of the chance given to what happened, in nats, shape (forecast,)."""
    given = np.where(np.asarray(happened, bool), chance, 1 - np.asarray(chance, float))
    return -np.log(np.clip(given, _SUREST, 1.0))


def log_score(chance: np.ndarray, happened: np.ndarray) -> float:
    """Mean of `log_penalties`, in nats a forecast."""
    return float(log_penalties(chance, happened).mean())


def joint_log_penalties(chance: np.ndarray, happened: np.ndarray, job: np.ndarray) -> np.ndarray:
    """Minus the log of the chance given to all outcomes of a job together, in nats.

    Chances given the job's earlier outcomes multiply to the joint chance, so
    their penalties add; those of a forecaster without a job effect add as well.

    Parameters
    ----------
    job : ndarray of int, shape (forecast,), each number from 0 in use.

    Returns
    -------
    ndarray, shape (job,)
    """
    return np.bincount(job, weights=log_penalties(chance, happened))


@dataclass(frozen=True)
class BrierParts:
    """Brier score = reliability - resolution + uncertainty + within.

    reliability : how far the forecasts of a group lie from its share of events; 0 is best.
    resolution : how far the groups' shares lie from the overall share; more is better.
    uncertainty : the score of always saying the overall share.
    within : what differences of forecasts inside a group leave over; 0 where
        every group is one forecast value.
    """

    reliability: float
    resolution: float
    uncertainty: float
    within: float


def brier_parts(chance: np.ndarray, happened: np.ndarray, group: np.ndarray | None = None) -> BrierParts:
    """Split a Brier score in Murphy's three parts.

    Parameters
    ----------
    group : ndarray, shape (forecast,), labels of groups of like forecasts;
        equal forecasts when None.
    """
    chance, happened = np.asarray(chance, float), np.asarray(happened, float)
    _, place = np.unique(chance if group is None else group, return_inverse=True)
    count = np.bincount(place)
    forecast = np.bincount(place, weights=chance) / count
    share = np.bincount(place, weights=happened) / count
    overall = happened.mean()
    reliability = float(count @ (forecast - share) ** 2 / count.sum())
    resolution = float(count @ (share - overall) ** 2 / count.sum())
    uncertainty = float(overall * (1 - overall))
    within = brier_score(chance, happened) - (reliability - resolution + uncertainty)
    return BrierParts(reliability, resolution, uncertainty, within)
