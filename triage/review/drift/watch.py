"""Watch a shop's record for drift: the forecasts that the detector tests.

A posterior fitted before the watch began forecasts by its own draws. One that
has seen the watched outcomes cannot, for it has learned the drift; nor is
there one in a shop that has not fitted. Then the level of each kind is
learned anew from the record, attempt by attempt: its chances are the
posterior's means, or the assumptions, with an unknown constant on the logit,
with prior `N(0, 1)`, updated by everything before the watch. The posterior's
effects of severity, tier, technician, cause and job stay.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import pandas as pd
import xarray as xr
from scipy.special import expit, logit

from triage.design_matrix import attempts
from triage.domain.catalogue import Catalogue
from triage.domain.history import History
from triage.posterior.store import Posterior
from triage.prediction.attempt_chances import attempt_chances
from triage.priors.prior_set import PriorSet
from triage.review.drift.detector import ALARM_AT, Alarm, Stretch, drift_alarms, shares

WATCHED_DAYS = 365
MOST_DRAWS = 400
LEVEL_SD = 1.0
# Fine enough that thousands of attempts cannot fall between two levels.
_LEVELS = np.linspace(-4, 4, 161)


@dataclass(frozen=True)
class DriftWatch:
    """What a watch has seen.

    alarms : in the order in which they were seen.
    watch_from, as_of : the days watched. attempts, kinds : watched.
    against : the forecasts that the outcomes were compared with, in words.
    """

    alarms: tuple[Alarm, ...]
    watch_from: date
    as_of: date
    attempts: int
    against: str
    kinds: int = 1


def watch_drift(
    history: History,
    posterior: Posterior | None,
    catalogue: Catalogue,
    priors: PriorSet | None = None,
    watch_from: date | None = None,
    at: float = ALARM_AT,
) -> DriftWatch:
    """Say which kinds drift, and since when.

    Parameters
    ----------
    posterior : with success draws; None to start from assumptions.
    priors : the assumptions, used where there is no posterior; weak ones when None.
    watch_from : when None, a year before the record's end, or its middle where
        it is shorter than two years, or the posterior's own cut-off where that
        is earlier.
    at : as for `drift.drift_alarms`.
    """
    table = attempts(history, catalogue)
    dates = attempt_dates(history, table)
    start = watch_from or _start(dates, history.as_of)
    fitted = _cut_off(posterior)
    if fitted is not None and watch_from is None:
        start = min(start, fitted)
    if posterior is not None and fitted is not None and fitted <= start:
        later = table[table["job"].isin(table["job"][dates > np.datetime64(fitted)])]
        seen = draws_stretch(later, attempt_dates(history, later), posterior.draws["success"], catalogue)
        against = f"the fit up to {fitted.isoformat()}"
    elif posterior is not None:
        chances = attempt_chances(_thin(posterior.draws["success"]), table, catalogue).mean(axis=0)
        seen = level_stretch(table, dates, chances)
        against = "the fit, with each kind's level estimated from earlier jobs"
    else:
        first = table[table["after"] < 0]
        seen = level_stretch(first, attempt_dates(history, first), believed_chances(first, priors))
        against = "assumptions, with each kind's level estimated from earlier jobs"
    kinds = [kind.slug for kind in catalogue.kind if kind.role == "repair"]
    before = table["kind"][dates < np.datetime64(start)].value_counts()
    share = shares({kind: int(before.get(kind, 0)) for kind in kinds})
    names = {kind: catalogue.kinds[kind].name for kind in kinds}
    late = seen.date >= np.datetime64(start)
    alarms = drift_alarms([seen], share, names, start, at)
    told = len(set(seen.kind[late]) & set(kinds))
    return DriftWatch(alarms, start, history.as_of, int(late.sum()), against, told)


def attempt_dates(history: History, table: pd.DataFrame) -> np.ndarray:
    """Day of intake of each attempt, datetime64, shape (attempt,)."""
    return history.rows["date"].reindex(table["row"]).to_numpy().astype("datetime64[D]")


def draws_stretch(table: pd.DataFrame, dates: np.ndarray, draws: xr.Dataset, catalogue: Catalogue) -> Stretch:
    """Attempts as the draws of a fit that had not seen them forecast them.

    Parameters
    ----------
    table : as made by `design_matrix.attempts`, or whole jobs of it with their index.
    dates : as made by `attempt_dates`.
    draws : stored success draws; at most 400 are used, evenly spaced.
    """
    return _in_time(table, dates, attempt_chances(_thin(draws), table, catalogue), None)


def level_stretch(
    table: pd.DataFrame, dates: np.ndarray, chances: np.ndarray, sd: float = LEVEL_SD
) -> Stretch:
    """Attempts forecast up to an unknown constant a kind.

    Parameters
    ----------
    chances : ndarray, shape (attempt,).
    sd : of the constant, on the logit, before the first attempt.
    """
    within = np.clip(np.asarray(chances, float), 1e-9, 1 - 1e-9)
    return _in_time(table, dates, expit(logit(within) + sd * _LEVELS[:, None]), np.exp(-(_LEVELS**2) / 2))


def believed_chances(table: pd.DataFrame, priors: PriorSet | None) -> np.ndarray:
    """Chance of each attempt by the stated assumptions about its kind and severity, shape (attempt,)."""
    beliefs = (priors or PriorSet()).success
    level = np.array([logit(beliefs.belief(kind).chance) for kind in table["kind"]])
    return expit(level - beliefs.severity.step * (table["severity"].to_numpy(float) - 2))


def _in_time(
    table: pd.DataFrame, dates: np.ndarray, chance: np.ndarray, weight: np.ndarray | None
) -> Stretch:
    order = np.argsort(dates, kind="stable")
    kind, fixed = table["kind"].to_numpy(str), table["fixed"].to_numpy(bool)
    return Stretch(dates[order], kind[order], fixed[order], chance[:, order], weight)


def _thin(draws: xr.Dataset) -> xr.Dataset:
    size = draws.sizes["draw"]
    return draws.isel(draw=np.linspace(0, size - 1, min(size, MOST_DRAWS)).round().astype(int))


def _cut_off(posterior: Posterior | None) -> date | None:
    """Day up to which the success draws know the record; None where they know none of it."""
    if posterior is None or not posterior.manifest.as_of or "success" in posterior.manifest.belief_only:
        return None
    return date.fromisoformat(posterior.manifest.as_of)


def _start(dates: np.ndarray, as_of: date) -> date:
    first = min(dates.min().astype(date), as_of) if len(dates) else as_of
    return as_of - min(timedelta(days=WATCHED_DAYS), (as_of - first) / 2)
