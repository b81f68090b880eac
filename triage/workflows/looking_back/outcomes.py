"""Track record: the shop's stored decisions, compared with their outcomes.

Every baseline knows what the shop knew on the evening before the decision: the
jobs closed by then. The rates are counted anew for each day; the ridge
regression is fitted again when its record has grown by a quarter.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pandas as pd

from triage.design_matrix import AttemptDesign, AttemptIndices, attempt_design
from triage.domain.history import History
from triage.errors import EmptyRecordError
from triage.ledger.history.history_rows import history_of
from triage.ledger.record import Ledger
from triage.review.forecasts.baselines import past_rates, past_ridge, ridge_chances
from triage.review.forecasts.kept_forecast import StoredForecast, stored_forecast
from triage.review.forecasts.outcome_review import OutcomeReview, review_outcomes
from triage.workflows.looking_back.kept_forecasts import kept_promises, repair_of
from triage.workflows.shop.shop import Shop

GROWN = 1.25


def track_record(ledger: Ledger, shop: Shop, seed: int = 1) -> OutcomeReview | None:
    """Judge the kept decisions of all jobs taken and closed; None while there is none to judge.

    Raises
    ------
    HistoryError : the record holds damage that the catalogue does not know, or several currencies.
    """
    with ledger.reading() as reading:
        jobs = reading.jobs()
    try:
        history = history_of(jobs, shop.catalogue)
    except EmptyRecordError:
        return None
    closed = set(history.jobs.index)
    here = [job for job in jobs if job.label in closed and not job.intake.record.imported_from]
    judged = {job.label: stored_forecast(job) for job in here}
    left_out = Counter(why for why in judged.values() if isinstance(why, str))
    stored = {label: one for label, one in judged.items() if isinstance(one, StoredForecast)}
    design = attempt_design(history, shop.catalogue)
    # Rivals are asked as the decision was: from the grades of the intake. They learn from the bench's.
    seen = attempt_design(history.as_seen_at_intake(), shop.catalogue).attempts
    table = seen[seen["job"].isin(stored)]
    foreseen, unforeseen = _forecasts(table, stored, shop)
    if foreseen.empty:
        return None
    days = foreseen["date"].to_numpy().astype("datetime64[D]")
    table = table.loc[foreseen.index]
    forecasts = foreseen.assign(**_baselines(design, history, table, days, shop)).reset_index(drop=True)
    promises = kept_promises(history, design.attempts, stored, here, shop)
    return review_outcomes(
        forecasts, history.as_of, unforeseen, tuple(left_out.most_common()), promises, seed
    )


def _forecasts(
    table: pd.DataFrame, stored: dict[str, StoredForecast], shop: Shop
) -> tuple[pd.DataFrame, int]:
    """Foreseen attempts with their chance (index as in `table`), and how many were not foreseen."""
    rows, unforeseen = [], 0
    for label, attempts in table.groupby("job", sort=False):
        decision = stored[str(label)]
        place = {index: number for number, index in enumerate(attempts.index)}
        tried = [
            (kind, repair_of(kind, method, shop.catalogue), bool(fixed))
            for kind, method, fixed in zip(
                attempts["kind"], attempts["method"], attempts["fixed"], strict=True
            )
        ]
        after = [place.get(before, -1) for before in attempts["after"]]
        for index, entry, forecast in zip(
            attempts.index, attempts.to_dict("records"), decision.attempts(tried, after), strict=True
        ):
            if forecast is None:
                unforeseen += 1
                continue
            day = pd.Timestamp(decision.day)
            rows.append(
                {
                    "index": index, "job": label, "date": day, "quarter": f"{day.year} Q{day.quarter}",
                    "finding": entry["kind"], "family": shop.catalogue.kinds[entry["kind"]].family,
                    "severity": entry["severity"], "method": entry["method"],
                    "second_try": entry["after"] >= 0, "fixed": bool(entry["fixed"]),
                    "model": forecast.chance, "given_earlier": forecast.given_earlier,
                }
            )  # fmt: skip
    return pd.DataFrame(rows).set_index("index") if rows else pd.DataFrame(), unforeseen


def _baselines(
    design: AttemptDesign, history: History, table: pd.DataFrame, days: np.ndarray, shop: Shop
) -> dict[str, np.ndarray]:
    """Chances of the attempts by every baseline on what was known before each one's day."""
    rows = history.rows.reindex(design.attempts["row"])
    known = (rows["date"] if "closed" not in rows else rows[["date", "closed"]].max(axis=1)).to_numpy()
    known = known.astype("datetime64[D]")
    found = {name: np.empty(len(table)) for name in ("overall", "raw", "beta", "ridge")}
    ridge, fitted_on = None, -1.0
    for day in np.unique(days):
        past, on = _known(design, known < day), np.flatnonzero(days == day)
        if ridge is None or len(past.fixed) > GROWN * fitted_on:
            ridge, fitted_on = past_ridge(past), len(past.fixed)
        rates = past_rates(past, table.iloc[on], shop.priors.success)
        for name, chances in {**rates, "ridge": ridge_chances(ridge, past, table.iloc[on])}.items():
            found[name][on] = chances
    return found


def _known(design: AttemptDesign, mask: np.ndarray) -> AttemptDesign:
    """The part of a design that was known; its levels stay, so that labels mean the same."""
    index = {name: getattr(design.indices, name)[mask] for name in AttemptIndices.__dataclass_fields__}
    return replace(
        design,
        attempts=design.attempts[mask],
        indices=AttemptIndices(**index),
        job=design.job[mask],
        fixed=design.fixed[mask],
        after=np.full(int(mask.sum()), -1),
    )
