"""Attempts replicated from a fit: which are fixed, and how long they take."""

from __future__ import annotations

import numpy as np
import pandas as pd
import xarray as xr
from scipy.special import expit

from triage.design_matrix import AttemptDesign, attempt_design
from triage.domain.catalogue import Catalogue
from triage.domain.history import History
from triage.inference.replicated import Replicated, counted, effect_at, groups, measured
from triage.outcome_models.attempt_totals import total_over_rows
from triage.outcome_models.bench_minutes import CLOCK
from triage.outcome_models.integrated_likelihood import standard_nodes
from triage.prediction.bench_minutes import AttemptMinutes
from triage.prediction.success import logits_at
from triage.priors.fresh_job import inside_logit
from triage.priors.prior_set import PriorSet

# A group with fewer attempts says little by itself; it still counts in the others.
LEAST = 10
NODES = 15
TINY = 1e-300
# An attempt that took so many times the usual minutes of its kind got stuck.
STUCK = 3


def repairs_fixed(
    history: History, catalogue: Catalogue, priors: PriorSet, draws: xr.Dataset, rng: np.random.Generator
) -> list[Replicated]:
    """Repairs fixed by severity, by family, and by what went before on the same job.

    Each attempt is replicated given the real outcomes before it on its job, in the order of the
    record: whether work went on after a failure then makes no difference to what is expected.
    """
    made = attempt_design(history, catalogue)
    chances = given_earlier(made, logits_at(draws, made.indices), draws)  # (draw, attempt)
    fixed = rng.random(chances.shape) < chances
    weight = made.weight[made.job]

    def share(quantity: str, held: np.ndarray) -> Replicated:
        return counted(quantity, made.fixed[held], fixed[:, held], weight[held])

    severities = groups(made.indices.severity, {s: f"severity {s + 1}" for s in range(3)}, LEAST)
    found = [share(f"repairs fixed, {name}", held) for name, held in severities]
    slugs = np.array(made.coords["family"])[made.levels.family[made.indices.kind]]
    names = {family.slug: family.name for family in catalogue.family}
    found += [share(f"repairs fixed, {name}", held) for name, held in groups(slugs, names, LEAST)]
    second = made.after >= 0
    earlier = _before(made.job, ~made.fixed)
    place = _before(made.job, np.ones(len(made.fixed), bool))
    after = {
        "repairs fixed, first of a job": place == 0,
        "repairs fixed, after only successes on the job": (place > 0) & (earlier == 0),
        "repairs fixed, after a failure on the job": (earlier > 0) & ~second,
        "second tries that worked": second,
    }
    return found + [share(name, held) for name, held in after.items() if held.sum() >= LEAST]


def _before(job: np.ndarray, held: np.ndarray) -> np.ndarray:
    """How often something held earlier on the same job, shape (attempt,)."""
    return pd.Series(held.astype(int)).groupby(job).cumsum().to_numpy() - held


def given_earlier(made: AttemptDesign, logits: np.ndarray, draws: xr.Dataset) -> np.ndarray:
    """Chance of each attempt given those before it on its job, under each draw, shape (draw, attempt).

    Parameters
    ----------
    logits : ndarray, shape (draw, attempt), of fresh chances.
    """
    z, log_weight = standard_nodes(NODES)
    order = np.argsort(made.job, kind="stable")
    of_job = made.job[order]
    begins = np.flatnonzero(np.r_[True, of_job[1:] != of_job[:-1]])
    start = np.repeat(begins, np.diff([*begins, len(order)]))  # (attempt,), in job order
    chances = np.empty_like(logits)
    for draw, (point, sd) in enumerate(zip(logits, draws["job_sd"].to_numpy(), strict=True)):
        at = inside_logit(point, sd, (z, np.exp(log_weight)))[:, None] + sd * z  # (attempt, node)
        chance = expit(at)[order]
        told = np.log(np.where(made.fixed[order, None], chance, 1 - chance) + TINY)
        before = np.cumsum(told, axis=0) - told  # of all jobs before, and earlier on this one
        weight = log_weight + before - before[start]
        weight = np.exp(weight - weight.max(axis=1, keepdims=True))
        chances[draw, order] = (weight * chance).sum(axis=1) / weight.sum(axis=1)
    return chances


def minutes_spent(
    history: History, catalogue: Catalogue, priors: PriorSet, draws: xr.Dataset, rng: np.random.Generator
) -> list[Replicated]:
    """Mean, 90 % quantile, mean of failed attempts, attempts that got stuck, and those given up."""
    made = attempt_design(history, catalogue)
    spent = total_over_rows(made.attempts, history.rows["minutes"])
    timed = np.flatnonzero(spent > 0)
    give_up = priors.bench_minutes.give_up_minutes
    real = np.clip(np.round(spent[timed] / CLOCK) * CLOCK, CLOCK, give_up)
    kind, severity = made.indices.kind[timed], made.indices.severity[timed]
    failed = ~made.fixed[timed]
    usual = effect_at(draws, "log_minutes", kind)  # (draw, attempt)
    step = draws["severity_step"].transpose("draw", "step").to_numpy()
    steps = np.column_stack([-step[:, 0], np.zeros(len(step)), step[:, 1]])  # (draw, severity)
    location = usual + steps[:, severity] + effect_at(draws, "method_effect", made.indices.method[timed])
    location = location + failed * effect_at(draws, "failed_effect", made.levels.family[kind])
    replicated = _minutes(draws, location, give_up, ~failed).sample(
        np.arange(location.size), *rng.random((2, location.size))
    )
    replicated = np.clip(np.round(replicated.reshape(location.shape) / CLOCK) * CLOCK, CLOCK, give_up)

    def upper(values: np.ndarray, axis: int) -> np.ndarray:
        return np.quantile(values, 0.9, axis=axis)

    typical = np.exp(np.median(usual, axis=0))  # (attempt,)
    found = [
        measured("mean minutes of an attempt", "minutes", np.mean, real, replicated),
        measured("minutes that nine attempts in ten stay under", "minutes", upper, real, replicated),
    ]
    if failed.any():
        found.append(
            measured(
                "mean minutes of one that failed", "minutes", np.mean, real[failed], replicated[:, failed]
            )
        )
    return [
        *found,
        counted(
            f"attempts of over {STUCK} times the usual minutes",
            real > STUCK * typical,
            replicated > STUCK * typical,
        ),
        counted(f"attempts given up at {give_up:g} minutes", real >= give_up, replicated >= give_up),
    ]


def _minutes(draws: xr.Dataset, location: np.ndarray, give_up: float, fixed: np.ndarray) -> AttemptMinutes:
    """The minutes of every attempt under every draw, one after the other; `location` is (draw, attempt)."""

    def alike(name: str) -> np.ndarray:
        return np.repeat(draws[name].to_numpy(), location.shape[1])

    return AttemptMinutes(
        location=location.ravel(),
        spread=alike("spread"),
        tail_location=location.ravel() + alike("tail_shift"),
        tail_spread=alike("tail_spread"),
        tail_share=alike("tail_share"),
        give_up=give_up,
        fixed=np.tile(fixed, len(location)),
    )
