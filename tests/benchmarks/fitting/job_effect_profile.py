"""The job effect's sd at the invented shop's own logits.

`python -m tests.benchmarks.fitting.job_effect_profile`.

No sampler: for each seed a record is simulated and every attempt's true logit is taken from
the shop's truth. The sd of the job effect (and the other parameters of a form) is set at
the maximum of the likelihood. The result shows the bias of the likelihood's form alone,
which the spread of a full fit would hide. Written to `results/job-effect-profile.json`; two
minutes for 30 seeds.

Forms of a second try by another method, made after a first has failed: left out; as if
nothing had failed; an effect of sd .8 shared by both tries; an amount taken off its logit;
the shop's own rule. The last again with the repairs that the bench gave up on sight, at the
shop's own rule for that: it shows the cost of leaving them out.
"""

from __future__ import annotations

import argparse
import json
import re
import tempfile
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
import pandas as pd
from scipy.optimize import minimize
from scipy.special import expit, logsumexp

from synthetic_cases.bench import Bench
from synthetic_cases.generate import generate_history, write_history
from synthetic_cases.past import play_past
from synthetic_cases.truth import Truth, load_truth
from triage.design_matrix import attempts
from triage.domain.catalogue import Catalogue, load_catalogue
from triage.ledger.history.history_csv import read_history
from triage.outcome_models.integrated_likelihood import standard_nodes
from triage.priors.fresh_job import inside_logit

RESULTS = Path(__file__).parents[1] / "results" / "job-effect-profile.json"
Z, LOG_WEIGHT = standard_nodes(31)
START = {"lowered": 1.0}
SHARED_SD = 0.8


@dataclass(frozen=True)
class Record:
    """A played record at its true logits.

    logits, fixed, job, severe : shape (attempt,), logits in a job of average
        effect. first : by attempt, the failed one it follows, or -1.
    given_up : job and whether severe, of each group that looked hopeless.
    """

    logits: np.ndarray
    fixed: np.ndarray
    job: np.ndarray
    severe: np.ndarray
    first: np.ndarray
    given_up: tuple[np.ndarray, np.ndarray]
    jobs: int


def play(truth: Truth, catalogue: Catalogue, seed: int, folder: Path) -> Record:
    """Simulate one record and look up the truth of every attempt."""
    past = play_past(truth, seed)
    path = folder / f"jobs-{seed}.csv"
    write_history(generate_history(truth, seed), path)
    history = read_history(path, catalogue)
    path.unlink()
    table, rows = attempts(history, catalogue), history.rows
    labels = pd.Index(rows["job"].astype(str).unique())
    bench, job = Bench(truth, catalogue), labels.get_indexer(table["job"])
    average = [unit._replace(job_effect=0.0) for unit in past.units]
    logits = [
        bench.logit(average[place], kind, severity, method)
        for place, kind, severity, method in zip(
            job, table["kind"], table["severity"], table["method"], strict=True
        )
    ]
    left = rows[rows["why_not"] == "looked-hopeless"].groupby("job", sort=False)["severity"].first()
    return Record(
        np.array(logits),
        table["fixed"].to_numpy(bool),
        job,
        table["severity"].to_numpy(int) == 3,
        table["after"].to_numpy(int),
        (labels.get_indexer(left.index.astype(str)), left.to_numpy(int) == 3),
        len(labels),
    )


def log_likelihood(
    record: Record, truth: Truth, sd: float, form: str, lowered: float, given_up: bool
) -> float:
    """Log likelihood of a record at one sd of the job effect."""
    at = record.logits[:, None] + sd * Z  # (attempt, node)
    chance = expit(at)
    second = np.flatnonzero(record.first >= 0)
    before = chance[record.first[second]]
    if form == "lowered":
        chance[second] = expit(at[second] - lowered)
    elif form == "shop":
        # Share of second tries that meet the difficulty of the first; the others have luck of their own.
        same = np.maximum(0, chance[second] - before) / (1 - before)
        share = truth.bench.shared_difficulty
        chance[second] = share * same + (1 - share) * chance[second]
    elif form == "shared":
        chance[second], chance[record.first[second]] = _shared(at[record.first[second]], at[second])
    item = np.log(np.where(record.fixed[:, None], chance, 1 - chance))
    if form == "left out":
        item[second] = 0.0
    total = np.zeros((record.jobs, Z.size))
    np.add.at(total, record.job, item)
    if given_up:
        rules, tried = truth.bench, record.first < 0
        on_sight = rules.hopeless + rules.hopeless_job_effect * sd * Z
        worse = rules.hopeless_severe
        kept_on = on_sight + worse * record.severe[tried][:, None]
        np.add.at(total, record.job[tried], -np.logaddexp(0, kept_on))
        jobs, severe = record.given_up
        np.add.at(total, jobs, -np.logaddexp(0, -(on_sight + worse * severe[:, None])))
    return float(logsumexp(total + LOG_WEIGHT, axis=1).sum())


def _shared(first: np.ndarray, second: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Chance of a second try given the failure of a first, and of the first, sharing an effect."""
    v, log_weight = standard_nodes(15)
    weight = np.exp(log_weight)
    inside = partial(inside_logit, sd=SHARED_SD, rule=(v, weight))
    fails = expit(-(inside(first)[..., None] + SHARED_SD * v))  # (second try, node, shared)
    works = expit(inside(second)[..., None] + SHARED_SD * v)
    return (fails * works) @ weight / (fails @ weight), 1 - fails @ weight


FORMS = {
    "second tries left out": ("left out", False),
    "as if nothing had failed": ("plain", False),
    "an effect of sd .8 shared by both tries": ("shared", False),
    "an amount off the logit after a failure": ("lowered", False),
    "the shop's own rule": ("shop", False),
    "the shop's own rule, giving up counted": ("shop", True),
}


def best(record: Record, truth: Truth, form: str, given_up: bool) -> list[float]:
    """Maximum of the likelihood: the sd of the job effect, and the form's other parameters."""

    def loss(point: np.ndarray) -> float:
        return -log_likelihood(record, truth, point[0], form, point[-1], given_up)

    start = [truth.job_effect_sd, *([START[form]] if form in START else [])]
    found = minimize(loss, start, method="Nelder-Mead", options={"xatol": 2e-3, "fatol": 1e-3}).x
    return [round(abs(float(found[0])), 4), *(round(float(value), 4) for value in found[1:])]


def summary(runs: dict[str, dict[str, list[float]]], truth: float) -> dict:
    """Means over seeds, with their spread and the error of the mean."""
    forms = {}
    for name in FORMS:
        values = np.array([run[name] for run in runs.values()])  # (seed, parameter)
        spread = values.std(axis=0, ddof=1)
        forms[name] = {
            "mean": values.mean(axis=0).round(3).tolist(),
            "spread": spread.round(3).tolist(),
            "error_of_mean": (spread / np.sqrt(len(values))).round(3).tolist(),
        }
    return {"truth": truth, "seeds": len(runs), "forms": forms, "runs": runs}


def main(arguments: list[str] | None = None) -> int:
    """Profile every seed and write the means."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=30)
    parser.add_argument("--first", type=int, default=5001)
    parser.add_argument("--more", action="store_true", help="add to the results that are there")
    given = parser.parse_args(arguments)
    catalogue, truth = load_catalogue(), load_truth()
    runs = json.loads(RESULTS.read_text(encoding="utf-8"))["runs"] if given.more else {}
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(given.first, given.first + given.seeds):
            record = play(truth, catalogue, seed, Path(folder))
            runs[str(seed)] = {name: best(record, truth, *form) for name, form in FORMS.items()}
    told = json.dumps(summary(runs, truth.job_effect_sd), indent=1)
    # A list of numbers on one line.
    told = re.sub(r"\[\s+([^\[\]]*?)\s+\]", lambda found: f"[{' '.join(found[1].split())}]", told)
    RESULTS.write_text(told + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
