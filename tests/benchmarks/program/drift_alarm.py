"""The drift alarm on the invented shop: `python -m tests.benchmarks.program.drift_alarm`.

Four years of the shop are simulated, at the pace of the shipped one; the alarm monitors the
last two. It starts from the stated priors and learns each kind's level from the first two
years. This replaces the fit (`drift_watch`: priors for kind and severity, an unknown
constant per kind), so that hundreds of histories can be monitored.

Threshold: the least evidence of the grid that gives at most `WANTED_RATE` false alarms a
year on histories without drift, over all kinds, with a look at every attempt. False alarms:
the same on other histories. Delay: one kind with over 100 attempts a year, of which 15 in
20 succeed, falls to 8 in 20, at once or gradually over a year, from a day three months into
the monitored time. Days are days of intake. Steady shops: attempts of 1, 5, 20 or 60 kinds
with chances that never change, 830 a year over four years; how many of 150 have an alarm in
the last two. Written to `results/drift-alarm.json`.
"""

from __future__ import annotations

import argparse
import json
import os
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from multiprocessing import Pool
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from scipy.stats import beta

from synthetic_cases.chances import Drift
from synthetic_cases.generate import generate_history
from synthetic_cases.truth import Truth, load_truth
from triage.domain.catalogue import load_catalogue
from triage.domain.history import History
from triage.priors.prior_set import load_priors
from triage.review.drift.detector import ALARM_AT, Alarm, drift_alarms, shares
from triage.review.drift.watch import DriftWatch, level_stretch, watch_drift
from triage.shipped import shipped

RESULTS = Path(__file__).parents[1] / "results" / "drift-alarm.json"
KIND = "frame-bent"
CHANCES, FALLS_TO = (0.91, 0.76, 0.47), 0.36  # 15 in 20 over all, and 8 in 20 after the fall
WATCHED_YEARS = 2
# Two thirds of the allowed rate: the rest is a margin for other shops and other histories.
WANTED_RATE = 0.05 * 2 / 3
GRID = (2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0, 20.0)


def longer(truth: Truth) -> Truth:
    """The same shop with a record a year longer, at the same pace."""
    days = (truth.as_of - truth.start).days
    return replace(
        truth,
        as_of=truth.as_of + timedelta(days=365),
        jobs=round(truth.jobs * (days + 365) / days),
    )


def fair(truth: Truth) -> Truth:
    """The same shop, in which the kind succeeds 15 times in 20."""
    return replace(truth, kinds={**truth.kinds, KIND: replace(truth.kinds[KIND], chance=CHANCES)})


def watched(
    truth: Truth, seeds: range, at: float, drift: Drift | None = None
) -> Iterator[tuple[DriftWatch, History]]:
    """Simulate and monitor each seed's history."""
    with Pool(2) as pool:
        yield from pool.imap(_watch, [(truth, seed, at, drift) for seed in seeds])


def _watch(given: tuple[Truth, int, float, Drift | None]) -> tuple[DriftWatch, History]:
    truth, seed, at, drift = given
    catalogue = load_catalogue()
    priors = load_priors(shipped("models/priors/demo"), catalogue)
    rows = generate_history(truth, seed, None, drift)
    history = History(rows.assign(date=pd.to_datetime(rows["date"])), truth.as_of)
    start = truth.as_of - timedelta(days=365 * WATCHED_YEARS)
    return watch_drift(history, None, catalogue, priors, start, at), history


def calibrated(truth: Truth, seeds: range) -> dict[str, Any]:
    """Rate of false alarms a year at each threshold of the grid, and the one chosen."""
    most = [
        max((alarm.evidence for alarm in found.alarms), default=0.0)
        for found, _ in watched(truth, seeds, min(GRID))
    ]
    rates = {at: float((np.array(most) >= at).mean() / WATCHED_YEARS) for at in GRID}
    return {
        "histories": len(seeds),
        "wanted_rate_a_year": round(WANTED_RATE, 4),
        "rate_a_year_by_threshold": {f"{at:g}": round(rate, 5) for at, rate in rates.items()},
        "alarm_at": next(at for at in GRID if rates[at] <= WANTED_RATE),
    }


def false_alarms(truth: Truth, seeds: range, at: float) -> dict[str, Any]:
    """Histories with an alarm for any kind, by monitored year."""
    years, named = np.zeros((len(seeds), WATCHED_YEARS), bool), {}
    for place, (found, _) in enumerate(watched(truth, seeds, at)):
        for alarm in found.alarms:
            years[place, min((alarm.seen_on - found.watch_from).days // 365, WATCHED_YEARS - 1)] = True
            named[alarm.kind] = named.get(alarm.kind, 0) + 1
    return {
        "histories": len(seeds),
        "years_watched": WATCHED_YEARS,
        "histories_with_alarm_by_year": years.sum(axis=0).tolist(),
        "rate_first_year": _rate(int(years[:, 0].sum()), len(seeds)),
        "rate_a_year": _rate(int(years.sum()), years.size),
        "alarms_by_kind": named,
    }


def steady_shop(kinds: int, seed: int, a_year: int = 830) -> tuple[Alarm, ...]:
    """Alarms in the last two of four years of a shop in which no kind's chance changes."""
    rng, years = np.random.default_rng(seed), 2 * WATCHED_YEARS
    tries = a_year * years
    pace, chance = rng.dirichlet(np.full(kinds, 1.0)), rng.beta(6, 2, kinds)
    day = np.sort(rng.integers(0, 365 * years, tries))
    of = rng.choice(kinds, tries, p=pace)
    names = [f"k{number:02d}" for number in range(kinds)]
    table = pd.DataFrame({"kind": np.array(names)[of], "fixed": rng.random(tries) < chance[of]})
    first = np.datetime64("2024-01-01")
    watch_from = first + 365 * WATCHED_YEARS
    before = table["kind"][first + day < watch_from].value_counts()
    share = shares({name: int(before.get(name, 0)) for name in names})
    stretch = level_stretch(table, first + day, np.full(tries, 0.75))
    return drift_alarms([stretch], share, {}, watch_from.astype(object))


def steady_shops(kinds: int, shops: int) -> dict[str, Any]:
    """How many steady shops are alarmed, and in how many the alarm is proved."""
    found = [steady_shop(kinds, seed) for seed in range(shops)]
    alarmed = sum(bool(alarms) for alarms in found)
    proved = sum(any(alarm.proved for alarm in alarms) for alarms in found)
    return {
        "shops": shops, "years": WATCHED_YEARS, "at": ALARM_AT, "alarmed": alarmed, "proved": proved,
        "rate_a_year": round(alarmed / shops / WATCHED_YEARS, 4),
    }  # fmt: skip


def _rate(count: int, of: int) -> dict[str, float]:
    """A share and its exact 95 % interval (Clopper and Pearson 1934, from memory)."""
    low = beta.ppf(0.025, count, of - count + 1) if count else 0.0
    high = beta.ppf(0.975, count + 1, of - count) if count < of else 1.0
    return {"rate": round(count / of, 4), "low": round(float(low), 4), "high": round(float(high), 4)}


def delays(truth: Truth, seeds: range, at: float, drift: Drift) -> dict[str, Any]:
    """Delay of detection, in days and in attempts of its kind."""
    days, tries, since, early, rate = [], [], [], 0, []
    for found, history in watched(truth, seeds, at, drift):
        own = history.rows[(history.rows["finding"] == KIND) & (history.rows["outcome"] != "not-attempted")]
        day = own["date"].dt.date
        until = drift.until or drift.start
        rate.append([(own["outcome"] == "fixed")[held].mean() for held in (day < drift.start, day >= until)])
        mine = [alarm for alarm in found.alarms if alarm.kind == KIND and alarm.direction == "down"]
        if mine and mine[0].seen_on < drift.start:
            early += 1
        elif mine:
            days.append((mine[0].seen_on - drift.start).days)
            tries.append(int(((day >= drift.start) & (day <= mine[0].seen_on)).sum()))
            since.append((mine[0].since - drift.start).days)
    of = len(seeds) - early
    within = [int(sum(day <= limit for day in days)) for limit in (365, 730)]
    return {
        "histories": len(seeds),
        "seen_before_it_began": early,
        "rate_before_and_after": np.mean(rate, axis=0).round(3).tolist(),
        "seen_by_the_end": len(days),
        "seen_within_a_year_of_its_beginning": within[0],
        "days": _quantiles(days, of),
        "attempts": _quantiles(tries, of),
        "stated_beginning_less_true_days": _quantiles(since, len(since)),
    }


def _quantiles(values: list[int], of: int) -> dict[str, float | None]:
    """Median and 90 % point over `of` histories; None where too few detected it."""
    ordered = sorted(values)
    points = {name: int(np.ceil(share * of)) - 1 for name, share in (("median", 0.5), ("90 %", 0.9))}
    return {name: ordered[place] if place < len(ordered) else None for name, place in points.items()}


def main(arguments: list[str] | None = None) -> int:
    """Measure the requested figures; the other results stay."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--calibrating", type=int, default=400, help="without drift, for the threshold")
    parser.add_argument("--histories", type=int, default=400, help="other ones without drift")
    parser.add_argument("--drifted", type=int, default=100, help="of each of the two falls")
    parser.add_argument("--steady", type=int, default=150, help="steady shops of each number of kinds")
    given = parser.parse_args(arguments)
    truth = longer(load_truth())
    start = truth.as_of - timedelta(days=365 * WATCHED_YEARS - 92)
    parts: dict[str, Any] = {"command": "python -m tests.benchmarks.program.drift_alarm"}
    if RESULTS.exists():
        parts |= json.loads(RESULTS.read_text(encoding="utf-8"))
    if given.calibrating:
        parts["threshold"] = calibrated(truth, range(7001, 7001 + given.calibrating))
        _keep(parts)
    at = parts["threshold"]["alarm_at"]
    if given.drifted:
        seeds = range(5001, 5001 + given.drifted)
        year_later = start + timedelta(days=365)
        falls = {
            "abrupt fall": Drift(KIND, start, FALLS_TO),
            "fall over a year": Drift(KIND, start, FALLS_TO, True, year_later),
        }
        for name, drift in falls.items():
            parts[name] = {"kind": KIND, "from": start.isoformat(), **delays(fair(truth), seeds, at, drift)}
            _keep(parts)
    if given.histories:
        parts["no drift"] = false_alarms(truth, range(3001, 3001 + given.histories), at)
        _keep(parts)
    if given.steady:
        parts["steady shops"] = {str(kinds): steady_shops(kinds, given.steady) for kinds in (1, 5, 20, 60)}
        _keep(parts)
    return 0


def _keep(parts: dict[str, Any]) -> None:
    RESULTS.parent.mkdir(exist_ok=True)
    waiting = RESULTS.with_suffix(".tmp")
    waiting.write_text(json.dumps(parts, indent=1) + "\n", encoding="utf-8")
    os.replace(waiting, RESULTS)


if __name__ == "__main__":
    raise SystemExit(main())
