"""Back-test: stand at days in the past, fit on what was known then, forecast what came next.

The first half of a record's jobs (by intake) is the first past. The rest is
cut in blocks of about as many jobs each; every block is forecast from what was
known at the end of the day before it begins. A job closed later than that day
is not known, whenever it was taken in. Without a `closed` column a job counts
as known on the day of its intake.

A fit that fails its gate is said and counted, and not used: as in the shop,
the fit before it goes on, or, without one, assumptions alone. Where the record has
minutes, those of each try are forecast too, from the bench-minutes model fitted
on the same past; where it has money, the margin of each job.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

import numpy as np
import pandas as pd

from triage.design_matrix import FACTORS, attempt_design, attempts
from triage.domain.catalogue import Catalogue
from triage.domain.history import History
from triage.domain.intake_grades import grade_counts
from triage.domain.shop.settings import Settings
from triage.errors import Fault, HistoryError
from triage.ledger.history.history_csv import known_at
from triage.prediction.attempt_chances import attempt_chances
from triage.prediction.intake_grade import bench_shares
from triage.prediction.job_forecasts import job_forecasts, replicated_forecasts
from triage.priors.prior_set import PriorSet
from triage.review.drift.detector import Alarm, Stretch, drift_alarms, shares
from triage.review.forecasts.backtest import Backtest, Block, scores_of, summarise
from triage.review.forecasts.baselines import baseline_chances
from triage.review.forecasts.calibration import z_terms
from triage.review.forecasts.decision_value import DecisionScore
from triage.review.money.margin_forecast import MarginDraws
from triage.review.money.realised_margin import MONEY_COLUMNS
from triage.workflows.looking_back.backtest_fits import (
    Fit,
    NamedFit,
    PassedFits,
    Progress,
    fit_named,
    fit_success,
)
from triage.workflows.looking_back.backtest_money import (
    BlockPromises,
    block_promises,
    expected_by_forecaster,
    promise_checks,
    score_decisions,
)

FIRST_PAST = 0.5


@dataclass(frozen=True)
class BacktestOptions:
    """How to back-test.

    blocks : stretches to forecast.
    replicates : of the outcomes, for the reference of the calibration test.
    sampler : SamplerSettings; the defaults when None.
    promises : whether minutes and margins are forecast too, which takes two
        more (quicker) fits a block.
    """

    blocks: int = 4
    seed: int = 1
    replicates: int = 400
    sampler: Any = None
    promises: bool = True


@dataclass(frozen=True)
class _Played:
    """A block after it was forecast."""

    block: Block
    forecasts: pd.DataFrame
    replicated: tuple[np.ndarray, np.ndarray]
    stretch: Stretch
    expected: pd.DataFrame | None
    promised: BlockPromises


def backtest(
    history: History,
    catalogue: Catalogue,
    priors: PriorSet,
    settings: Settings,
    options: BacktestOptions | None = None,
    progress: Progress | None = None,
    fit: Fit | None = None,
    fit_other: NamedFit | None = None,
) -> Backtest:
    """Back-test the success model on a history.

    Parameters
    ----------
    settings : rates and fees, for the margins of the decision score.
    progress : told what is happening: `event` "model" with `model`; "block" with `place`, `of`,
        `origin`, `past_jobs`, `jobs`; "failed" with `why`, `used`; and the sampler's own.
    fit : another way of fitting to back-test in place of `fit_success`.
    fit_other : the same for minutes and parts, in place of `fit_named`.

    Raises
    ------
    HistoryError : too short a record to have a past and something after it.
    """
    options, tell = options or BacktestOptions(), progress or (lambda event: None)
    fit, fit_other = fit or fit_success, fit_other or fit_named
    days = _cuts(history, options.blocks)
    standing = PassedFits(catalogue, priors, options.sampler, tell)
    played: list[_Played] = []
    for place, (origin, until) in enumerate(zip(days[:-1], days[1:], strict=True)):
        past, new = known_at(history, origin), _between(history, origin, until)
        known, table = attempt_design(past, catalogue), attempts(new, catalogue)
        if not len(known.fixed):
            raise _too_short(f"no attempt was known on {origin}")
        if table.empty:
            continue
        event = {"origin": origin.isoformat(), "past_jobs": len(past.jobs), "jobs": len(new.jobs)}
        tell({"event": "block", "place": place, "of": len(days) - 1, **event})
        seed = options.seed + place
        tell({"event": "model", "model": "success"})
        made = fit(past, catalogue, priors, seed, options.sampler, tell)
        draws, used = standing.use("success", made, seed)
        shares = bench_shares(table, new, priors.intake_grade.shares(grade_counts(past)))
        by_draw = attempt_chances(draws, table, catalogue, shares)
        chances = {"model": job_forecasts(by_draw, table), **baseline_chances(known, table, priors.success)}
        forecasts = _forecasts(new, table, catalogue, len(played)).assign(**chances)
        block = Block(
            origin=origin,
            until=until,
            past_jobs=len(past.jobs),
            past_attempts=len(known.fixed),
            jobs=table["job"].nunique(),
            attempts=len(table),
            used=used,
            failures=made.failures,
            scores=scores_of(forecasts),
        )
        again = replicated_forecasts(draws, table, catalogue, options.replicates, seed)
        expected = expected_by_forecaster(past, new, known, catalogue, priors, settings, draws)
        promised = BlockPromises()
        if options.promises and past.has("minutes") and new.has("minutes"):
            other, by = {}, {}
            for name in ("bench_minutes", "parts_cost"):
                tell({"event": "model", "model": name})
                fitted = fit_other(name, past, catalogue, priors, seed, options.sampler, tell)
                other[name], by[name] = standing.use(name, fitted, seed)
            both = MarginDraws(draws, other["bench_minutes"], other["parts_cost"])
            chance = chances["model"]
            promised = block_promises(past, new, table, chance, both, catalogue, priors, settings, seed)
            stood_in = "" if by["bench_minutes"] == "fit" else by["bench_minutes"]
            promised = replace(promised, stood_in=stood_in)
        stretch = _stretch(forecasts, by_draw)
        played.append(_Played(block, forecasts, z_terms(*again), stretch, expected, promised))
    if not played:
        raise _too_short("no attempt comes after the first half of its jobs")
    later = int((history.jobs["date"] > pd.Timestamp(played[0].block.origin)).sum())
    expected_margins = [one.expected for one in played if one.expected is not None]
    decision = score_decisions(history, expected_margins, later, catalogue, settings, options.seed)
    return summarise(
        pd.concat([one.forecasts for one in played], ignore_index=True),
        tuple(one.block for one in played),
        history.as_of,
        options.seed,
        replicated=_summed([one.replicated for one in played]),
        decision=decision,
        lacks=_lacks(history, decision),
        alarms=_alarms(known_at(history, days[0]), played, catalogue),
        promises=promise_checks([one.promised for one in played]),
    )


def _summed(terms: Sequence[tuple[np.ndarray, np.ndarray]]) -> tuple[np.ndarray, np.ndarray]:
    """Both arrays of every block, added up."""
    first, second = (sum(each, start=np.zeros(())) for each in zip(*terms, strict=True))
    return first, second


def _cuts(history: History, blocks: int) -> list[date]:
    """Days on which the pasts end, and the last day of intake."""
    dates = history.jobs["date"].sort_values().to_numpy()
    shares = FIRST_PAST + (1 - FIRST_PAST) * np.arange(blocks + 1) / blocks
    places = np.maximum(np.ceil(len(dates) * shares).astype(int) - 1, 0)
    days = sorted({pd.Timestamp(dates[place]).date() for place in places})
    if len(days) < 2:
        raise _too_short("all its later jobs were taken in on one day")
    return days


def _too_short(why: str) -> HistoryError:
    return HistoryError(
        [Fault("the history", None, "date", f"cannot be back-tested: {why}", "a longer record")]
    )


def _between(history: History, origin: date, until: date) -> History:
    """Jobs taken in after one day, up to another, with all that is known of them by now.

    Severities are those of the intake: the bench's were not known when the forecast is made.
    """
    dates = history.rows["date"]
    kept = (dates > pd.Timestamp(origin)) & (dates <= pd.Timestamp(until))
    return History(history.rows[kept].reset_index(drop=True), history.as_of).as_seen_at_intake()


def _forecasts(block: History, table: pd.DataFrame, catalogue: Catalogue, number: int) -> pd.DataFrame:
    """Describe the attempts of a block: the columns of `Backtest.forecasts` before any chance."""
    return pd.DataFrame(
        {
            "block": number,
            "job": table["job"],
            "date": block.rows["date"].to_numpy()[table["row"]],
            "finding": table["kind"],
            "family": [catalogue.kinds[kind].family for kind in table["kind"]],
            "severity": table["severity"],
            "method": table["method"],
            "second_try": table["after"] >= 0,
            "fixed": table["fixed"].astype(bool),
        }
    )


def _stretch(forecasts: pd.DataFrame, by_draw: np.ndarray) -> Stretch:
    """Attempts of a block as the drift alarm reads them, in order of time."""
    order = np.argsort(forecasts["date"].to_numpy(), kind="stable")
    rows = forecasts.iloc[order]
    day = rows["date"].to_numpy().astype("datetime64[D]")
    return Stretch(day, rows["finding"].to_numpy(str), rows["fixed"].to_numpy(), by_draw[:, order])


def _alarms(first_past: History, played: list[_Played], catalogue: Catalogue) -> tuple[Alarm, ...]:
    """Drift that a watch over the blocks would have seen, against each block's own fit."""
    kinds = [kind.slug for kind in catalogue.kind if kind.role == "repair"]
    before = attempts(first_past, catalogue)["kind"].value_counts()
    share = shares({kind: int(before.get(kind, 0)) for kind in kinds})
    names = {kind: catalogue.kinds[kind].name for kind in kinds}
    start = played[0].block.origin + timedelta(days=1)
    return drift_alarms([one.stretch for one in played], share, names, start)


def _lacks(history: History, decision: DecisionScore | None) -> tuple[str, ...]:
    """Say what the record does not hold, and what that leaves out."""
    said = []
    absent = [name for name in MONEY_COLUMNS if not history.has(name)]
    if decision is None:
        lack = f"no {', '.join(absent)}" if absent else "too few jobs with complete costs"
        said.append(f"{lack}, so chances are scored and margins are not")
    if not history.has("minutes"):
        said.append("no minutes, so forecasts of minutes are not scored")
    if not history.has("closed"):
        said.append("no closing dates, so every job counts as known on the day of its intake")
    plain = [name for name in ("severity", *FACTORS, "method") if not history.has(name)]
    if plain:
        said.append(f"no {', '.join(plain)}, so the model has no such effect")
    return tuple(said)
