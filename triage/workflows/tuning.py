"""Beliefs tuned from the shop's own past: proposed, reviewed, accepted kind by kind, and compared."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np

from triage.domain.catalogue import Catalogue
from triage.domain.history import History
from triage.domain.settings import Settings
from triage.elicitation.proposal import LITTLE, Proposal, propose, refused_kinds
from triage.errors import BeliefError, Fault, HistoryError, StalePosteriorError
from triage.posterior.store import Posterior
from triage.priors.prior_set import PriorSet, load_priors
from triage.priors.saved_sets import SavedSet, save_set
from triage.priors.tuned_jobs import TunedJobs, job_hashes
from triage.review.paired_bootstrap import mean_difference
from triage.review.scores import joint_log_penalties
from triage.workflows.beliefs import check_beliefs


def propose_from(
    posterior: Posterior, history: History, catalogue: Catalogue, priors: PriorSet, little: int = LITTLE
) -> Proposal:
    """Propose beliefs for kinds with little of a record from families with much.

    Parameters
    ----------
    history : the record the draws were fitted to, as `beliefs.record_behind` reads it.
    priors : the set the fit started from, which the proposal would change.
    little : a kind with fewer attempts takes from its family.

    Raises
    ------
    StalePosteriorError : the draws started from other beliefs, or are belief only.
    """
    manifest = posterior.manifest
    if "success" in manifest.belief_only:
        raise StalePosteriorError("the draws are belief only: there is no record to tune from")
    check_beliefs(manifest, priors)
    kinds = propose(posterior.draws["success"], manifest.attempts, catalogue, priors.success, little)
    hashes = tuple(sorted(job_hashes(history).values()))
    return Proposal(priors.digest, history.as_of.isoformat(), posterior.source, kinds, hashes)


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
    BeliefError : a kind is not proposed, none is wanted, or the set was changed since.
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
    beliefs = [proposal.belief(item) for item in proposal.kinds if item.kind in kinds]
    return save_set(
        folder, catalogue, beliefs, came_from, TunedJobs(frozenset(proposal.jobs), proposal.until)
    )


@dataclass(frozen=True)
class ComparedSet:
    """How one set did on the blocks that all were scored on.

    brier, log : mean penalty an attempt; joint_log : a job.
    gain : joint log penalty of the first set less this one's, a job: above 0
        where this one is better; low, high : 90 % interval, jobs drawn.
        None for the first set.
    """

    name: str
    brier: float
    log: float
    joint_log: float
    gain: float | None = None
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True)
class Comparison:
    """Prior sets scored on the same later blocks.

    first : jobs taken in before this day were left out, because a set was tuned
        on them; None where no set was tuned.
    jobs, attempts : that were forecast.
    """

    first: date | None
    jobs: int
    attempts: int
    sets: tuple[ComparedSet, ...]


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

    Raises
    ------
    HistoryError : too little of the record is later than what a set was tuned on.
    """
    free = [priors.tuned.first_free_day for priors in sets.values()]
    first = max((day for day in free if day), default=None)
    if first:
        history = history.since(first)
        if history.rows.empty:
            wrong = f"no job was taken in from {first} on, and a set was tuned on what came before"
            raise HistoryError(
                [Fault("history", None, "date", wrong, "a record that goes on after that day")]
            )
    from triage.workflows.backtest import BacktestOptions, backtest

    options = options or BacktestOptions()
    results, penalties = {}, {}
    for name, priors in sets.items():
        result = results[name] = backtest(history, catalogue, priors, settings, options, progress)
        table = result.forecasts
        jobs = np.unique(table["job"].to_numpy(), return_inverse=True)[1]
        penalties[name] = joint_log_penalties(table["model"].to_numpy(), table["fixed"].to_numpy(), jobs)
    base = next(iter(sets))
    rows = []
    for name, result in results.items():
        scores = result.scores["model"]
        against = ()
        if name != base:
            gain = mean_difference(penalties[base] - penalties[name], options.seed)
            against = (gain.mean, gain.low, gain.high)
        rows.append(ComparedSet(name, scores.brier, scores.log, scores.joint_log, *against))
    return Comparison(first, results[base].jobs, results[base].attempts, tuple(rows))
