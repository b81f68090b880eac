"""Write the invented shop's past jobs: `python -m synthetic_cases.generate`."""

from __future__ import annotations

import argparse
import os
import sys
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd

from synthetic_cases.bench_work import JobRecord
from synthetic_cases.chances import Drift
from synthetic_cases.past import Past, play_past
from synthetic_cases.truth import Truth, load_truth

SHIPPED = Path(__file__).parent / "past-jobs.csv"


def generate_history(
    truth: Truth, seed: int, jobs: int | None = None, drift: Drift | None = None
) -> pd.DataFrame:
    """Play the shop's past jobs.

    Parameters
    ----------
    truth : what is true. seed : of every random number; the same seed gives the
        same table. jobs : how many; the truth's own number when None.
    drift : one kind whose chance changes on a date; all other luck stays as it was.

    Returns
    -------
    DataFrame, one row per finding (per try where two were made), jobs in order
    of intake, rows of a job in order of work. Dates are ISO 8601 text and money
    is in major units; what is blank in the file is "" or NA here.
    """
    return _table(truth, play_past(truth, seed, jobs, drift))


def _table(truth: Truth, past: Past) -> pd.DataFrame:
    """Arrange the record in the columns of the plain history format."""
    jobs, units, records, sales = past.intake, past.units, past.records, past.sales
    row = np.repeat(np.arange(len(jobs)), [len(record.lines) for record in records])  # (line,)
    lines = pd.DataFrame([line for record in records for line in record.lines])
    hidden = [_hidden_faults(truth, record) for record in records]

    def each(values: list | np.ndarray) -> np.ndarray:
        return np.asarray(values)[row]

    def day(values: np.ndarray) -> np.ndarray:
        text = np.datetime_as_string(values)
        return each(np.where(np.isnat(values), "", text))

    return pd.DataFrame(
        {
            "job": [f"sl-{number + 1:05d}" for number in row.tolist()],
            "date": day(jobs.date),
            "route": each(np.where(jobs.walk_in, "walk-in", "bought")),
            "tier": each([unit.tier for unit in units]),
            "cause": each([unit.cause for unit in units]),
            "technician": each([unit.technician for unit in units]),
            "finding": lines["kind"],
            "zone": lines["zone"],
            "severity": lines["severity"],
            "known_at": lines["known_at"],
            "outcome": lines["outcome"],
            "why_not": lines["why_not"],
            "method": lines["method"],
            "minutes": lines["minutes"].astype("Int64"),
            "book_cost": lines["book_cost"],
            "parts_cost": lines["parts_cost"],
            "working_price": each(jobs.working_price),
            "paid": each(sales.paid),
            "sold": each(sales.sold),
            "sold_date": day(sales.sold_date),
            "closed": day(jobs.closed),
            "hidden_faults": each(hidden),
            "comeback_date": day(sales.comeback_date),
            "comeback_kind": each(sales.comeback_kind),
            "warranty_days": pd.array(each(sales.warranty_days)).astype("Int64"),
            "ending": each(sales.ending),
            # Opening shows this bench every hidden fault, however deep it lies.
            "look_depth": each(["shields-off" if text else "" for text in hidden]),
            "strip_minutes": pd.array(each(sales.strip_minutes)).astype("Int64"),
            "selling_fees": each(sales.selling_fees),
            "parts_margin": each(sales.parts_margin),
        }
    )


def _hidden_faults(truth: Truth, record: JobRecord) -> str:
    """Blank: never opened. none: opened, nothing found. Else the slugs."""
    if not record.opened:
        return ""
    found = {line.kind for line in record.lines}
    return ";".join(slug for slug in truth.hidden if slug in found) or "none"


def write_history(history: pd.DataFrame, path: Path) -> None:
    """Write the table as CSV to a temporary file beside `path`, then rename it."""
    temporary = path.with_name(path.name + ".tmp")
    history.to_csv(temporary, index=False, float_format="%.2f", lineterminator="\n", encoding="utf-8")
    os.replace(temporary, path)


def main(arguments: list[str] | None = None) -> int:
    """Run the command line; the exit status is 0, or 2 for arguments that cannot be used."""
    parser = argparse.ArgumentParser(prog="python -m synthetic_cases.generate", description=__doc__)
    parser.add_argument("--seed", type=int, help="default: the truth's own")
    parser.add_argument("--jobs", type=int, help="default: the truth's own number")
    parser.add_argument("--out", type=Path, default=SHIPPED, help="CSV file to write")
    parser.add_argument("--truth", type=Path, help="another truth.toml")
    parser.add_argument("--drift", metavar="KIND", help="damage kind whose chance changes")
    parser.add_argument("--drift-from", type=date.fromisoformat, metavar="DATE", help="its first day")
    parser.add_argument("--drift-to-chance", type=float, metavar="X", help="fresh-job chance at severity 2")
    parser.add_argument("--drift-gradual", action="store_true", help="by degrees until the as-of date")
    options = parser.parse_args(arguments)

    truth = load_truth(options.truth)
    if options.seed is not None and options.seed < 0:
        parser.error(f"--seed: {options.seed} is not accepted; allowed: 0 or more")
    if options.jobs is not None and options.jobs < 1:
        parser.error(f"--jobs: {options.jobs} is not accepted; allowed: 1 or more")
    drift = _drift(parser, options, truth)
    seed = truth.seed if options.seed is None else options.seed
    history = generate_history(truth, seed, options.jobs, drift)
    write_history(history, options.out)
    sys.stderr.write(f"{options.out}: {history['job'].nunique()} jobs, {len(history)} rows\n")
    return 0


def _drift(parser: argparse.ArgumentParser, options: argparse.Namespace, truth: Truth) -> Drift | None:
    given = (options.drift, options.drift_from, options.drift_to_chance)
    if given == (None, None, None) and not options.drift_gradual:
        return None
    if None in given:
        parser.error("--drift, --drift-from and --drift-to-chance go together")
    if options.drift not in truth.kinds:
        parser.error(f"--drift: no kind in the truth is called {options.drift!r}")
    if not 0 < options.drift_to_chance < 1:
        wrong = f"{options.drift_to_chance} is not accepted"
        parser.error(f"--drift-to-chance: {wrong}; allowed: above 0, below 1")
    if not truth.start <= options.drift_from < truth.as_of:
        parser.error(f"--drift-from: allowed: {truth.start} up to the day before {truth.as_of}")
    return Drift(options.drift, options.drift_from, options.drift_to_chance, options.drift_gradual)


if __name__ == "__main__":
    raise SystemExit(main())
