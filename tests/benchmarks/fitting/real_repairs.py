"""Real repairs, forecast beside plain rivals: `python -m tests.benchmarks.fitting.real_repairs FOLDER SET`.

FOLDER holds one CSV file a set: job, date, finding, outcome, group. Source of
the sets named in the docs: Open Repair Alliance, Open Repair Data, compiled by
The Restart Project, licence CC BY-SA 4.0.

The group stands as technician and all kinds are of one family. Rows are taken by
date. The first half is the first past; the other half is cut in four stretches of
as many rows, each forecast from everything before it. Rivals were fixed
beforehand: the overall rate (half a success in one more try); the rate of the
kind, smoothed by four tries at the overall rate; a ridge logistic regression on
kind and group; the same with past rows halved in weight for every 24 months.

Differences of log loss have a 90 % interval in which repairs of one day count as
one. Results by set go into `models/backtests/real-repairs.json`.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from sklearn.linear_model import LogisticRegression

from triage.design_matrix import attempts
from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import DamageKind, Family
from triage.domain.history import History
from triage.inference.sampling import SamplerSettings, fit_model
from triage.outcome_models import success
from triage.prediction.attempt_chances import attempt_chances
from triage.prediction.job_forecasts import job_forecasts
from triage.priors.prior_set import PriorSet

RESULTS = Path(__file__).parents[3] / "models" / "backtests" / "real-repairs.json"
SOURCE = (
    "Open Repair Alliance, Open Repair Data, compiled by The Restart Project; licence CC BY-SA 4.0, "
    "which binds these derived figures too"
)
STRETCHES = 4
SMOOTHED_BY = 4
HALF_LIFE_DAYS = 730
RIVALS = ("overall", "kind, smoothed", "ridge", "ridge, half-life 24 months")
# Of a standard normal: 90 % lie within.
Z90 = 1.6449


def read(path: Path) -> tuple[History, Catalogue]:
    """A set as a history in order of date, and its catalogue of one family."""
    rows = pd.read_csv(path, dtype=str, keep_default_na=False)
    rows = rows[["job", "date", "finding", "outcome", "group"]].rename(columns={"group": "technician"})
    rows["date"] = pd.to_datetime(rows["date"])
    rows = rows.sort_values("date", kind="stable").reset_index(drop=True)
    kinds = sorted(set(rows["finding"]))
    catalogue = Catalogue(
        kind=tuple(DamageKind(slug, slug.replace("-", " "), "general") for slug in kinds),
        family=(Family("general", "general"),),
    )
    return History(rows, rows["date"].max().date()), catalogue


def rivals(past: pd.DataFrame, new: pd.DataFrame) -> dict[str, np.ndarray]:
    """Chances of the new rows by every rival."""
    fixed = (past["outcome"] == "fixed").to_numpy()
    overall = (fixed.sum() + 0.5) / (len(fixed) + 1)
    counted = pd.Series(fixed, past.index).groupby(past["finding"]).agg(["sum", "count"])
    smoothed = (counted["sum"] + SMOOTHED_BY * overall) / (counted["count"] + SMOOTHED_BY)
    both = pd.concat([past, new])
    table = np.column_stack([pd.get_dummies(both[name]) for name in ("finding", "technician")]).astype(float)
    age = (new["date"].min() - past["date"]).dt.days.to_numpy()
    found = {
        RIVALS[0]: np.full(len(new), overall),
        RIVALS[1]: new["finding"].map(smoothed).fillna(overall).to_numpy(float),
    }
    for name, weight in ((RIVALS[2], None), (RIVALS[3], 0.5 ** (age / HALF_LIFE_DAYS))):
        ridge = LogisticRegression(C=1.0, max_iter=2000).fit(table[: len(past)], fixed, weight)
        found[name] = ridge.predict_proba(table[len(past) :])[:, 1]
    return found


def forecast(
    history: History, catalogue: Catalogue, begin: int, end: int, settings: SamplerSettings
) -> tuple[np.ndarray, dict[str, Any]]:
    """The success model's chances of rows `begin` to `end` from the rows before, and how the fit went."""
    rows, priors = history.rows, PriorSet()
    past = History(rows.iloc[:begin].reset_index(drop=True), rows["date"].iloc[begin - 1].date())
    made = success.design(past, catalogue, priors)
    assert made is not None
    clock = time.monotonic()
    fitted = fit_model(success.build(made, priors), success.STORED, 1, settings)
    table = attempts(History(rows.iloc[begin:end].reset_index(drop=True), history.as_of), catalogue)
    chance = job_forecasts(attempt_chances(fitted.draws, table, catalogue), table)
    found = fitted.diagnostics
    told = {
        "past": begin,
        "rows": end - begin,
        "accepted": not fitted.failures,
        "retried": found.retried,
        "r_hat": round(found.rhat, 4),
        "effective": round(min(found.ess_bulk, found.ess_tail)),
        "divergences": found.divergences,
        "worst": found.worst,
        "seconds": round(time.monotonic() - clock, 1),
    }
    return chance, told


def log_losses(chance: np.ndarray, fixed: np.ndarray) -> np.ndarray:
    """Log loss of every forecast."""
    return -np.log(np.where(fixed, chance, 1 - chance))


def difference(gap: np.ndarray, day: np.ndarray) -> dict[str, float]:
    """Mean difference, and the variance of its sum with the repairs of one day as one."""
    by_day = pd.Series(gap - gap.mean()).groupby(day).sum()
    variance = float((by_day**2).sum() * len(by_day) / max(len(by_day) - 1, 1))
    return interval(float(gap.sum()), variance, len(gap))


def interval(total: float, variance: float, rows: int) -> dict[str, float]:
    """A mean difference with its 90 % interval, from the sum and its variance."""
    wide = Z90 * variance**0.5 / rows
    mean = total / rows
    return {"mean": mean, "low": mean - wide, "high": mean + wide, "sum": total, "variance": variance}


def calibration_slope(chance: np.ndarray, fixed: np.ndarray) -> float:
    """Slope of a logistic regression of the outcomes on the logits of the forecasts: 1 is best."""
    logit = np.log(chance / (1 - chance))[:, None]
    return float(LogisticRegression(C=1e6, max_iter=2000).fit(logit, fixed).coef_[0, 0])


def score(path: Path, settings: SamplerSettings) -> dict[str, Any]:
    """Back-test one set."""
    history, catalogue = read(path)
    rows = history.rows
    cuts = np.linspace(len(rows) // 2, len(rows), STRETCHES + 1).astype(int).tolist()
    chances: dict[str, list[np.ndarray]] = {}
    fits = []
    for begin, end in zip(cuts[:-1], cuts[1:], strict=True):
        ours, told = forecast(history, catalogue, begin, end, settings)
        sys.stderr.write(f"{path.stem} {json.dumps(told)}\n")
        fits.append(told)
        for name, chance in {"model": ours, **rivals(rows.iloc[:begin], rows.iloc[begin:end])}.items():
            chances.setdefault(name, []).append(chance)
    new = rows.iloc[cuts[0] :]
    fixed, day = (new["outcome"] == "fixed").to_numpy(), new["date"].to_numpy()
    losses = {name: log_losses(np.concatenate(each), fixed) for name, each in chances.items()}
    return {
        "rows": len(rows),
        "forecast": len(new),
        "log_loss": {name: float(each.mean()) for name, each in losses.items()},
        "against": {name: difference(losses["model"] - losses[name], day) for name in RIVALS},
        "calibration_slope": calibration_slope(np.concatenate(chances["model"]), fixed),
        "fits": fits,
    }


def pooled(sets: dict[str, Any]) -> dict[str, Any]:
    """Differences over all sets together."""
    rows = sum(one["forecast"] for one in sets.values())
    against = {}
    for name in RIVALS:
        total, variance = (
            sum(one["against"][name][key] for one in sets.values()) for key in ("sum", "variance")
        )
        against[name] = interval(total, variance, rows)
    return {"forecast": rows, "against": against}


def main() -> None:
    """Back-test the named sets and put them into the result file."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("sets", nargs="*")
    parser.add_argument("--out", type=Path, default=RESULTS)
    parser.add_argument("--draws", type=int, default=SamplerSettings.draws)
    parser.add_argument("--tune", type=int, default=SamplerSettings.tune)
    given = parser.parse_args()
    settings = SamplerSettings(draws=given.draws, tune=given.tune)
    held = json.loads(given.out.read_text("utf-8")) if given.out.exists() else {"sets": {}}
    for name in given.sets or sorted(path.stem for path in given.folder.glob("*.csv")):
        held["sets"][name] = {
            "settings": [given.draws, given.tune],
            **score(given.folder / f"{name}.csv", settings),
        }
        held = {"source": SOURCE, "pooled": pooled(held["sets"]), "sets": held["sets"]}
        given.out.parent.mkdir(parents=True, exist_ok=True)
        given.out.write_text(json.dumps(held, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
