"""What a day's jobs change in stored draws, in seconds and without a sampler.

Each draw of the last full fit is weighted by how much more likely it finds the
record of today than that of the fit, the weights' largest are smoothed, and
draws are taken again by their weights. Always from the full fit, never from
an update: errors cannot add up, and the order of the days is of no account.

Where the weights cannot be relied on, for one model or for all, nothing is
changed: a posterior has one record, so its models are updated all or none.
Models that use assumptions only know no record, and stay as they are.

References
----------
Vehtari, Simpson, Gelman, Yao and Gabry 2024, Pareto smoothed importance
sampling, JMLR 25:72 (smoothing; k below min(1 - 1/log10 S, .7)); Hesterberg 1995,
Technometrics 37:185 (a weighted mean's error is that of the mean of
`w (f - mean)`), with the effective sample of a chain for its draws that lean on
one another (Vehtari et al. 2021); Kong 1992 (weights alone: 1 / sum of squares);
Kitagawa 1996, JCGS 5:1 (systematic resampling). All from memory.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import xarray as xr

from triage.design_matrix import FACTORS, attempt_levels, attempts
from triage.domain.catalogue import Catalogue
from triage.domain.history import History
from triage.domain.intake_grades import grade_counts
from triage.elicitation.power_scaling import smoothed_weights
from triage.inference.backend import effective_for_mean
from triage.inference.diagnostics import LEAST_EFFECTIVE_SAMPLE
from triage.inference.success_checks import highest_shape
from triage.outcome_models.registry import MODELS
from triage.outcome_models.sale_price import sales
from triage.posterior.manifest import Manifest, QuickUpdate
from triage.posterior.store import Posterior, load_version, save_posterior
from triage.posterior.versions import last_full_fit
from triage.prediction.likelihood import MOVES_WITH_THE_DAY, log_likelihood
from triage.prediction.success import fresh_chances
from triage.priors.prior_set import PriorSet
from triage.priors.tuned_jobs import refuse_double_use
from triage.reports.wording.fit import model_name
from triage.workflows.fitting.fit import counts, method_counts
from triage.workflows.fitting.jobs_since import JobsSince, jobs_since
from triage.workflows.fitting.record_of_fit import check_beliefs, check_forms

AGAIN = "run a full fit"


@dataclass(frozen=True)
class Reweighted:
    """One model's draws after new jobs.

    log_weights : ndarray, shape (draw,), normalised.
    pareto_k : tail shape of the weights: 0 where all are equal, inf where few draws hold them all.
    effective : independent draws of equal weight that they are worth, for the number that is told worst.
    """

    log_weights: np.ndarray
    pareto_k: float
    effective: float

    @property
    def most_k(self) -> float:
        """Largest `pareto_k` that can be relied on."""
        return highest_shape(self.log_weights.size)

    @property
    def least_effective(self) -> float:
        """Smallest `effective` that can be relied on: the sample that the gate asks of a full fit."""
        return LEAST_EFFECTIVE_SAMPLE

    @property
    def passed(self) -> bool:
        """Whether the weighted draws may stand for a fit; those of which nothing new is told may."""
        enough = self.effective >= self.least_effective or np.ptp(self.log_weights) == 0
        return bool(self.pareto_k <= self.most_k and enough)


@dataclass(frozen=True)
class Update:
    """What came of it; nothing is on disk yet.

    posterior : the updated one; None where nothing is new, or where it was refused.
    why_not : why it was refused; empty where it was not.
    """

    since: JobsSince
    models: dict[str, Reweighted]
    posterior: Posterior | None
    why_not: tuple[str, ...]


def quick_update(full: Posterior, record: History, catalogue: Catalogue, priors: PriorSet) -> Update:
    """Update a full fit with what a record says more than it did then.

    Parameters
    ----------
    full : a full fit, with all its models.
    record : all past jobs, those of the fit among them.
    priors : the assumptions that the fit started from.

    Raises
    ------
    StalePosteriorError, HistoryError : the record, the assumptions or the models are not those of the fit.
    """
    check_forms(full.manifest)
    check_beliefs(full.manifest, priors)
    since = jobs_since(full.manifest, record)
    if since.nothing:
        return Update(since, {}, None, ())
    refuse_double_use(since.now, priors.tuned)
    why_not = _not_by_weights(full, since, catalogue, priors)
    if why_not:
        return Update(since, {}, None, tuple(why_not))
    found = {
        name: reweighted(
            told_more(name, draws, since, catalogue, priors), shown(name, draws), full.manifest.chains
        )
        for name, draws in full.draws.items()
        if not full.manifest.models[name].belief_only
    }
    why_not = [_refusal(name, one) for name, one in found.items() if not one.passed]
    if why_not:
        return Update(since, found, None, tuple(why_not))
    drawn = {
        name: draws.isel(draw=resampled(found[name].log_weights, full.manifest.seed))
        if name in found
        else draws
        for name, draws in full.draws.items()
    }
    return Update(since, found, Posterior(drawn, _manifest(full.manifest, since, found, catalogue)), ())


def update_folder(folder: Path, record: History, catalogue: Catalogue, priors: PriorSet) -> Update:
    """Update the posterior in use of a folder from its last full fit, and store it if it may be used."""
    fitted = last_full_fit(folder)
    update = quick_update(load_version(Path(folder), fitted, catalogue), record, catalogue, priors)
    if update.posterior is None:
        return update
    stored = save_posterior(update.posterior, folder)
    return replace(update, posterior=replace(update.posterior, manifest=stored))


def told_more(
    model: str, draws: xr.Dataset, since: JobsSince, catalogue: Catalogue, priors: PriorSet
) -> np.ndarray:
    """Log likelihood of the record now, less that of the record of the fit, shape (draw,)."""
    pair = (since.now, since.before) if model in MOVES_WITH_THE_DAY else (since.new, since.old)
    now, before = (log_likelihood(model, draws, history, catalogue, priors) for history in pair)
    return now - before


def shown(model: str, draws: xr.Dataset) -> np.ndarray:
    """Numbers that answers take from a model, shape (draw, number): chances, else all that is stored."""
    if model == "success":
        return np.column_stack([fresh_chances(draws, severity) for severity in (1, 2, 3)])
    values = [held.transpose("draw", ...).to_numpy() for held in draws.data_vars.values()]
    return np.column_stack([held.reshape(len(held), -1) for held in values])


def reweighted(log_ratios: np.ndarray, numbers: np.ndarray, chains: int = 1) -> Reweighted:
    """Smooth importance weights, and say how far they can be relied on.

    Parameters
    ----------
    log_ratios : shape (draw,), chain after chain.
    numbers : shape (draw, number), what the draws are used for.
    chains : that the draws came from, equally many from each; 1 where that is not known.
    """
    log_weights, shape = smoothed_weights(log_ratios)
    worth = effective_draws(np.exp(log_weights), numbers, chains)
    return Reweighted(log_weights, shape if shape > -np.inf else 0.0, worth)


def effective_draws(weights: np.ndarray, numbers: np.ndarray, chains: int) -> float:
    """Independent draws that weighted draws of chains are worth, least over all numbers.

    The mean of `f` by weights `w` errs as the mean of `g = S w (f - mean)` does, a number of the
    chains whose draws lean on one another as far as its effective sample says. Draws without
    weights, independent of each other, would err by the spread of `f`.

    Parameters
    ----------
    weights : shape (draw,), sum 1. numbers : shape (draw, number).

    Returns
    -------
    float : never more than the weights alone are worth, because of few draws that hold all
        weight the spread of `f` cannot be told.
    """
    chains = chains if len(weights) % chains == 0 else 1
    apart = numbers - weights @ numbers
    errors = len(weights) * weights[:, None] * apart
    told = [
        (weights @ apart[:, place] ** 2)
        / (errors[:, place] ** 2).mean()
        * effective_for_mean(errors[:, place].reshape(chains, -1))
        for place in np.flatnonzero(np.ptp(numbers, axis=0) > 0)
    ]
    return float(min([*told, 1 / (weights**2).sum()]))


def resampled(log_weights: np.ndarray, seed: int) -> np.ndarray:
    """Indices of as many draws, taken by their weights: equal weights give each draw once.

    Systematic resampling: a draw of weight w comes w x S times, rounded up or down.
    """
    upto = np.cumsum(np.exp(log_weights))
    # A quarter of a step from both its ends, rounding cannot take a draw for its neighbour.
    start = 0.25 + 0.5 * np.random.default_rng(seed).random()
    at = (start + np.arange(log_weights.size)) / log_weights.size
    return np.searchsorted(upto / upto[-1], at)


def _not_by_weights(full: Posterior, since: JobsSince, catalogue: Catalogue, priors: PriorSet) -> list[str]:
    """What no weighting of the draws can take up."""
    models, why = full.manifest.models, []
    if models["success"].fading is not None:
        why.append(f"the full fit uses forgetting, so every day changes it: {AGAIN}")
    for name, record in models.items():
        if record.refused:
            continue  # assumptions stay what they are: no job counts in them, new ones no more than old ones
        if record.belief_only and MODELS[name].design(since.now, catalogue, priors) is not None:
            why.append(
                f"{model_name(name)}: these are the first jobs of the record with data for it: {AGAIN}"
            )
    for effect, label in _unheard_of(full, since, catalogue):
        why.append(f"{effect} {label!r} is new to the models: {AGAIN}")
    return why


def _unheard_of(full: Posterior, since: JobsSince, catalogue: Catalogue) -> list[tuple[str, str]]:
    """Levels that a fit to the record of today would give an effect of their own."""
    levels = attempt_levels(catalogue, attempts(since.now, catalogue)).coords
    named = sales(since.now, catalogue)["tier"] if since.now.has("sold", "working_price") else ()
    tiers = tuple(sorted(set(named) - {""}))
    asked = [("success", name, levels.get(name, ())) for name in (*FACTORS, "method")]
    asked += [("bench_minutes", "method", levels.get("method", ()))]
    asked += [("sale_price", "tier", tiers if len(tiers) > 1 else ())]
    found = []
    for model, effect, labels in asked:
        held = full.draws[model].coords
        known = set(map(str, held[effect].values)) if effect in held else set()
        if not full.manifest.models[model].belief_only:
            found += [(effect, label) for label in labels if label not in known]
    return list(dict.fromkeys(found))


def _refusal(model: str, found: Reweighted) -> str:
    """Why a model's weighted draws may not be used."""
    by_weights = 1 / np.exp(2 * found.log_weights).sum()
    enough = found.pareto_k <= found.most_k and by_weights >= found.least_effective
    why = "too few independent draws are left" if enough else "the new jobs differ too much from the full fit"
    return (
        f"{model_name(model)}: {why} "
        f"(Pareto k {found.pareto_k:.2f}, allowed {found.most_k:.2f}; effective sample size "
        f"{found.effective:,.0f}, needed {found.least_effective:,.0f}): {AGAIN}"
    )


def _manifest(
    fitted: Manifest, since: JobsSince, found: dict[str, Reweighted], catalogue: Catalogue
) -> Manifest:
    return replace(
        fitted,
        as_of=since.now.as_of.isoformat(),
        jobs=len(since.now.jobs),
        rows=len(since.now.rows),
        data_hash=since.now.digest,
        attempts=counts(since.now, catalogue),
        methods=method_counts(since.now, catalogue),
        grades=grade_counts(since.now),
        job_digests=(),
        update=QuickUpdate(
            fitted=fitted.folder,
            as_of=fitted.as_of,
            added=since.added,
            changed=since.changed,
            pareto_k={name: round(one.pareto_k, 3) for name, one in found.items()},
            effective={name: round(one.effective, 1) for name, one in found.items()},
        ),
    )
