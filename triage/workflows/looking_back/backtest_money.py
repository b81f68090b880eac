"""The money side of a back-test: margins expected by each forecaster, and promises of minutes and margins."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
import xarray as xr

from triage.design_matrix import FACTORS, AttemptDesign
from triage.domain.catalogue import Catalogue
from triage.domain.history import History
from triage.domain.intake_grades import grade_counts
from triage.domain.shop.settings import Settings
from triage.outcome_models.attempt_totals import total_over_rows
from triage.policy.answer.promise import LEVELS
from triage.prediction.job_forecasts import all_fixed_chances
from triage.prediction.minutes_spread import minutes_spread
from triage.priors.prior_set import PriorSet
from triage.review.forecasts.baselines import baseline_chances
from triage.review.forecasts.decision_value import (
    DecisionScore,
    decision_score,
    expected_margins,
    intake_findings,
)
from triage.review.forecasts.interval_coverage import AmountUnit, PromiseCheck, check_promises
from triage.review.money.margin_forecast import BASIS as MARGIN_BASIS
from triage.review.money.margin_forecast import MarginDraws, margin_forecasts
from triage.review.money.realised_margin import realised_margins

MINUTES_BASIS = (
    "Bench minutes of each attempt, forecast before its outcome was known: the minutes of a success and of a "
    "failure, weighted by the chance given the job's earlier outcomes."
)
_COLUMNS = ["mean", *map(str, LEVELS)]


@dataclass(frozen=True)
class BlockPromises:
    """What was promised of a block's tries and jobs, and what came.

    minutes, margins : DataFrame with columns `job`, `mean`, one a level of
        `policy.promise.LEVELS`, and `actual`; None where the record cannot say.
    stood_in : what stood in for a fit of minutes that failed or could not be made, if anything.
    """

    minutes: pd.DataFrame | None = None
    margins: pd.DataFrame | None = None
    stood_in: str = ""


def block_promises(
    past: History,
    new: History,
    table: pd.DataFrame,
    chance: np.ndarray,
    draws: MarginDraws,
    catalogue: Catalogue,
    priors: PriorSet,
    settings: Settings,
    seed: int,
) -> BlockPromises:
    """Promise the minutes of each try and the margin of each job of a block.

    Parameters
    ----------
    table : the attempts of the block. chance : shape (attempt,), that each works.
    """
    mean, quantiles = minutes_spread(draws.minutes, table, chance, catalogue, priors.bench_minutes, seed)
    spent = total_over_rows(table, new.rows["minutes"])
    minutes = pd.DataFrame(np.column_stack([mean, quantiles]), columns=_COLUMNS)
    minutes = minutes.assign(job=table["job"].to_numpy(), actual=np.where(spent > 0, spent, np.nan))
    margins = margin_forecasts(past, new, draws, catalogue, priors, settings, seed)
    if margins is not None:
        margins = margins.rename(columns={"margin": "actual"}).rename_axis("job").reset_index()
    return BlockPromises(minutes, margins)


def promise_checks(found: list[BlockPromises]) -> tuple[PromiseCheck, ...]:
    """Hold the promises of all blocks against what came."""
    stood_in = [one.stood_in for one in found if one.stood_in]
    more = f" Minutes of {len(stood_in)} of {len(found)} blocks by {stood_in[0]}." if stood_in else ""
    checks = []
    amounts: tuple[tuple[AmountUnit, list[pd.DataFrame | None], str, str], ...] = (
        ("minutes", [one.minutes for one in found], "minutes per attempt", MINUTES_BASIS),
        ("money", [one.margins for one in found], "margins per job", MARGIN_BASIS),
    )
    for unit, told, what, basis in amounts:
        tables = [table for table in told if table is not None]
        if tables:
            every = pd.concat(tables)
            mean, actual, job = (every[column].to_numpy() for column in ("mean", "actual", "job"))
            quantiles = every[_COLUMNS[1:]].to_numpy()
            checks.append(check_promises(unit, what, basis + more, mean, quantiles, actual, job))
    return tuple(check for check in checks if check is not None)


def expected_by_forecaster(
    past: History,
    new: History,
    known: AttemptDesign,
    catalogue: Catalogue,
    priors: PriorSet,
    settings: Settings,
    draws: xr.Dataset,
) -> pd.DataFrame | None:
    """Margin expected of each job of a block at its intake, by forecaster; None without money."""
    before = realised_margins(past, catalogue, settings).money
    asked = realised_margins(new, catalogue, settings).money
    if before.empty or asked.empty:
        return None
    rows = intake_findings(new, catalogue)
    table = pd.DataFrame({"job": rows["job"], "kind": rows["finding"], "method": ""})
    blanks: dict[str, int | str] = {"severity": 2, **dict.fromkeys(FACTORS, "")}
    for name, blank in blanks.items():
        table[name] = rows[name] if name in rows else blank
    raw = pd.Series(baseline_chances(known, table, priors.success)["raw"], index=table["job"])
    finished = {
        "model": all_fixed_chances(draws, table, catalogue, priors.intake_grade.shares(grade_counts(past))),
        "raw": raw.groupby(level=0).prod(),
    }
    jobs = pd.concat([past.jobs, new.jobs])
    tier = jobs["tier"] if "tier" in jobs else pd.Series("", index=jobs.index)
    return pd.DataFrame(
        {
            name: expected_margins(before, asked, tier, chance.reindex(asked.index, fill_value=1).to_numpy())
            for name, chance in finished.items()
        },
        index=asked.index,
    )


def score_decisions(
    history: History,
    expected: list[pd.DataFrame],
    later_jobs: int,
    catalogue: Catalogue,
    settings: Settings,
    seed: int,
) -> DecisionScore | None:
    """Score the go or no-go on all blocks; None when no block has money.

    Parameters
    ----------
    expected : of the blocks, as made by `expected_by_forecaster`.
    later_jobs : all jobs of the blocks.
    """
    if not expected:
        return None
    every = pd.concat(expected)
    margin = realised_margins(history, catalogue, settings).money["margin"].reindex(every.index)
    by_name = {str(name): every[name].to_numpy() for name in every}
    return decision_score(margin.to_numpy(), by_name, later_jobs, seed)
