"""Assumptions tuned from the shop's own past: proposed, reviewed, accepted kind by kind, and compared."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np

from triage.design_matrix import attempts
from triage.domain.catalogue import Catalogue
from triage.domain.history import History
from triage.domain.shop.settings import Settings
from triage.elicitation.proposal import LITTLE, Proposal, propose, refused_kinds
from triage.errors import BeliefError, Fault, HistoryError, NotConvergedError, StalePosteriorError
from triage.ledger.history.history_csv import known_at
from triage.posterior.store import Posterior
from triage.priors.prior_set import PriorSet, load_priors
from triage.priors.saved_sets import SavedSet, save_set
from triage.priors.tuned_jobs import TunedJobs, job_hashes
from triage.review.forecasts.paired_bootstrap import mean_difference
from triage.review.forecasts.scores import joint_log_penalties
from triage.review.forecasts.set_comparison import ComparedSet, Comparison
from triage.workflows.fitting.fit import counts
from triage.workflows.fitting.record_of_fit import check_beliefs, jobs_after_tuning
from triage.workflows.shop.own_sets import refuse_shipped


def propose_from(
    posterior: Posterior, history: History, catalogue: Catalogue, priors: PriorSet, little: int = LITTLE
) -> Proposal:
    """Propose assumptions for kinds with little of a record from families with much.

    Parameters
    ----------
    history : the record the draws were fitted to, as `record_of_fit` reads it.
    priors : the set the fit started from, which the proposal would change.
    little : a kind with fewer attempts takes from its family.

    Raises
    ------
    StalePosteriorError : the draws started from other assumptions, or are assumptions only.
    """
    manifest = posterior.manifest
    if "success" in manifest.belief_only:
        raise StalePosteriorError("the fit uses assumptions only, so there is no record to tune on")
    check_beliefs(manifest, priors)
    kinds = propose(posterior.draws["success"], manifest.attempts, catalogue, priors.success, little)
    hashes = tuple(sorted(job_hashes(history).values()))
    return Proposal(priors.digest, history.as_of.isoformat(), posterior.source, kinds, hashes)


def propose_until(
    until: date,
    history: History,
    catalogue: Catalogue,
    priors: PriorSet,
    little: int = LITTLE,
    seed: int = 1,
    sampler: Any = None,
    progress: Callable[[dict[str, Any]], None] | None = None,
) -> Proposal:
    """Fit the jobs known on a day and propose from them, so that later ones are left to learn from.

    Parameters
    ----------
    history : the whole record; of a job still open on that day nothing is used.
    sampler : SamplerSettings; the defaults when None.

    Raises
    ------
    HistoryError : nothing was tried by that day.
    NotConvergedError : the fit failed its gate.
    """
    past = known_at(history, until)
    if not len(attempts(past, catalogue)):
        raise HistoryError(
            [Fault("history", None, "until", f"no attempt was known on {until}", "a later day")]
        )
    from triage.workflows.looking_back.backtest_fits import fit_success

    fitted = fit_success(past, catalogue, priors, seed, sampler, progress or (lambda event: None))
    if fitted.failures:
        raise NotConvergedError(
            f"the fit to the jobs up to {until} failed: {'; '.join(fitted.failures)}; nothing is proposed"
        )
    kinds = propose(fitted.draws, counts(past, catalogue), catalogue, priors.success, little)
    hashes = tuple(sorted(job_hashes(past).values()))
    return Proposal(
        priors.digest, past.as_of.isoformat(), f"{len(past.jobs):,} past jobs up to {until}", kinds, hashes
    )


def write_proposal(proposal: Proposal, path: Path) -> None:
    """Write a proposal's file in one step.

    Raises
    ------
    BeliefError : the file cannot be written.
    """
    path = Path(path)
    try:
        with tempfile.NamedTemporaryFile(
            "w", encoding="utf-8", dir=path.parent, prefix=".writing-", delete=False
        ) as scratch:
            scratch.write(proposal.text())
        os.replace(scratch.name, path)
    except OSError as problem:
        wrong = f"cannot be written ({problem.strerror})"
        raise BeliefError(
            [Fault(str(path), None, "--out", wrong, "a file in a folder that is there")]
        ) from problem


def accept(
    proposal: Proposal,
    wanted: Sequence[str] | None,
    folder: Path,
    came_from: Path | None,
    catalogue: Catalogue,
    name: str = "proposal",
) -> SavedSet:
    """Save a set with some of what is proposed, and the jobs it comes from.

    Parameters
    ----------
    wanted : kinds to accept; None for every one proposed.
    folder, came_from : as in `save_set`.
    name : what faults call the proposal.

    Raises
    ------
    BeliefError : a kind is not proposed, none is wanted, the set was changed since, or the
        folder is the shipped demo's.
    """
    before = load_priors(came_from, catalogue)
    kinds = tuple(item.kind for item in proposal.kinds) if wanted is None else tuple(wanted)
    found = list(refused_kinds(proposal, kinds, name))
    if not kinds:
        found.append(Fault(name, None, "--kind", "nothing is accepted", "a proposed kind, or all of them"))
    if before.digest != proposal.prior_hash:
        wrong = f"is about another set ({proposal.prior_hash}) than this ({before.digest})"
        found.append(Fault(name, None, "prior_hash", wrong, "the set it was proposed for, or a new proposal"))
    if found:
        raise BeliefError(found)
    refuse_shipped(folder)
    beliefs = [proposal.belief(item) for item in proposal.kinds if item.kind in kinds]
    return save_set(
        folder, catalogue, beliefs, came_from, TunedJobs(frozenset(proposal.jobs), proposal.until)
    )


def compare_sets(
    sets: Mapping[str, PriorSet],
    history: History,
    catalogue: Catalogue,
    settings: Settings,
    options: Any = None,
    progress: Callable[[dict[str, Any]], None] | None = None,
) -> Comparison:
    """Back-test prior sets on the same jobs, none of which any of them was tuned on.

    Every set is fitted to the same past and scored on the same blocks: what is
    compared is what to believe on coming to this record.

    Parameters
    ----------
    options : `backtest.BacktestOptions`; the defaults when None.
    progress : told what `backtest` tells, with `set`, its `set_place` and how many there are (`sets`).

    Raises
    ------
    HistoryError : too little of the record is later than what a set was tuned on.
    """
    free = [priors.tuned.first_free_day for priors in sets.values()]
    first = max((day for day in free if day), default=None)
    if first:
        history = jobs_after_tuning(history, first)
    from triage.workflows.looking_back.backtest import BacktestOptions, backtest

    # Only chances are compared: minutes and margins need no fits here.
    options = replace(options or BacktestOptions(), promises=False)
    results, penalties = {}, {}
    for place, (name, priors) in enumerate(sets.items()):
        tell = _named(progress, name, place, len(sets))
        result = results[name] = backtest(history, catalogue, priors, settings, options, tell)
        table = result.forecasts
        jobs = np.unique(table["job"].to_numpy(), return_inverse=True)[1]
        penalties[name] = joint_log_penalties(table["model"].to_numpy(), table["fixed"].to_numpy(), jobs)
    base = next(iter(sets))
    rows = []
    for name, result in results.items():
        scores = result.scores["model"]
        against: tuple[float, ...] = ()
        if name != base:
            gain = mean_difference(penalties[base] - penalties[name], options.seed)
            against = (gain.mean, gain.low, gain.high)
        failed = result.failed_fits
        rows.append(
            ComparedSet(
                name, scores.brier, scores.log, scores.joint_log, len(result.blocks), failed, *against
            )
        )
    return Comparison(first, results[base].jobs, results[base].attempts, tuple(rows))


def _named(
    progress: Callable[[dict[str, Any]], None] | None, name: str, place: int, sets: int
) -> Callable[[dict[str, Any]], None] | None:
    """Tell with every event which set it is about."""
    if progress is None:
        return None
    return lambda event: progress({**event, "set": name, "set_place": place, "sets": sets})
