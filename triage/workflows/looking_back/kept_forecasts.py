"""Minutes and margins of kept decisions, compared with what the jobs then took and made."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from triage.domain.catalogue import Catalogue
from triage.domain.history import History
from triage.domain.job.file import JobFile
from triage.domain.money import from_minor
from triage.outcome_models.attempt_totals import total_over_rows
from triage.policy.answer.promise import LEVELS
from triage.review.forecasts.interval_coverage import AmountUnit, PromiseCheck, check_promises
from triage.review.forecasts.kept_forecast import StoredForecast
from triage.review.money.realised_margin import realised_margins
from triage.workflows.shop.shop import Shop

_TRY = "Bench minutes of each planned attempt, forecast before its outcome was known."
_JOB = "Bench minutes of all attempts of a job, as its plan forecast them."
_MARGIN = (
    "Margin of a bought job at the price paid. Work without recorded minutes (opening, checks, closing) is "
    "charged to neither forecast nor outcome."
)
_OWNERS = (
    "Margin of an owner's job at the lowest price that met your rule; the agreed price may differ. "
    "Opening, checks and closing are charged to neither forecast nor outcome."
)


def repair_of(kind: str, method: str, catalogue: Catalogue) -> str:
    """The repair by which an attempt was made: the usual one where none is named."""
    return method or catalogue.usual_method(kind)


def kept_promises(
    history: History,
    attempts: pd.DataFrame,
    stored: Mapping[str, StoredForecast],
    jobs: Iterable[JobFile],
    shop: Shop,
) -> tuple[PromiseCheck, ...]:
    """Judge the minutes of tries and of jobs, and the margins of bought and of owners' jobs.

    Parameters
    ----------
    attempts : of the history, as made by `design_matrix.attempts`.
    stored : kept decisions by job; jobs without one are passed over.
    """
    jobs = [job for job in jobs if job.label in stored]
    checks = []
    if history.has("minutes"):
        spent = pd.Series(total_over_rows(attempts, history.rows["minutes"]), attempts.index)
        spent = spent.where(spent > 0)
        checks += [_tries(attempts, spent, stored, shop.catalogue), _work(attempts, spent, stored, jobs)]
    checks += _margins(history, stored, jobs, shop)
    return tuple(check for check in checks if check is not None)


def _tries(
    attempts: pd.DataFrame, spent: pd.Series, stored: Mapping[str, StoredForecast], catalogue: Catalogue
) -> PromiseCheck | None:
    told = _Told()
    ours = attempts[attempts["job"].isin(stored)]
    for index, job, kind, method in ours[["job", "kind", "method"]].itertuples():
        told.add(job, stored[job].minutes(repair_of(kind, method, catalogue)), spent[index])
    return told.check("minutes", "minutes per attempt", _TRY)


def _work(
    attempts: pd.DataFrame, spent: pd.Series, stored: Mapping[str, StoredForecast], jobs: Iterable[JobFile]
) -> PromiseCheck | None:
    """Minutes of all tries of a job; a job with a try without minutes is left out."""
    whole = spent.groupby(attempts["job"]).apply(lambda minutes: minutes.sum(skipna=False))
    told = _Told()
    for job in jobs:
        promise = stored[job.label].promise
        if promise is not None and promise.work_minutes:
            both = (promise.mean_work_minutes, promise.work_minutes)
            told.add(job.label, both, float(whole.get(job.label, 0.0)))
    return told.check("minutes", "minutes per job", _JOB)


def _margins(
    history: History, stored: Mapping[str, StoredForecast], jobs: Iterable[JobFile], shop: Shop
) -> list[PromiseCheck | None]:
    money = realised_margins(history, shop.catalogue, shop.settings).money
    # The promise's minutes of stripping are in what is added below, as those of opening and closing are.
    margin = money["margin"] + money["strip_minutes"] * shop.settings.bench_rate / 60.0
    told = {"bought": _Told(), "walk-in": _Told()}
    for job in jobs:
        forecast = stored[job.label]
        paid = [-kept.record.amount_minor for kept in job.payments if kept.record.purpose == "purchase"]
        stated = forecast.margins(sum(paid) if paid else None)
        if stated is None or forecast.promise is None or job.label not in margin.index:
            continue
        one, more = from_minor(1, job.currency), forecast.promise.other_cost
        both = (one * stated[0] + more, tuple(one * stated[1] + more))
        told[job.route].add(job.label, both, float(margin[job.label]))
    return [
        told["bought"].check("money", "margins of bought jobs", _MARGIN),
        told["walk-in"].check("money", "margins of owners' jobs", _OWNERS),
    ]


@dataclass(frozen=True)
class _Told:
    """Promised amounts, gathered one by one."""

    mean: list[float] = field(default_factory=list)
    quantiles: list[tuple[float, ...]] = field(default_factory=list)
    actual: list[float] = field(default_factory=list)
    job: list[str] = field(default_factory=list)

    def add(self, job: str, promised: tuple[float, tuple[float, ...]] | None, actual: float) -> None:
        if promised is not None:
            self.mean.append(promised[0])
            self.quantiles.append(promised[1])
            self.actual.append(actual)
            self.job.append(job)

    def check(self, unit: AmountUnit, what: str, basis: str) -> PromiseCheck | None:
        quantiles = np.array(self.quantiles, float).reshape(-1, len(LEVELS))
        mean, actual = np.array(self.mean, float), np.array(self.actual, float)
        return check_promises(unit, what, basis, mean, quantiles, actual, np.array(self.job))
