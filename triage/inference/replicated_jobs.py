"""Jobs replicated from a fit: the hidden faults found in them, and which of them come back."""

from __future__ import annotations

import numpy as np
import xarray as xr
from scipy.special import expit

from triage.domain.catalogue import Catalogue
from triage.domain.history import History
from triage.inference.replicated import Replicated, counted, effect_at, groups
from triage.outcome_models.comeback import fixed_findings, watch, watched
from triage.outcome_models.hidden_fault import looks
from triage.prediction.hidden_fault import suspected_shift
from triage.priors.comeback import PIECE_ENDS, exposure_by_piece
from triage.priors.hidden_fault import raising_pairs
from triage.priors.prior_set import PriorSet

LEAST = 10


def faults_found(
    history: History, catalogue: Catalogue, priors: PriorSet, draws: xr.Dataset, rng: np.random.Generator
) -> list[Replicated]:
    """Hidden faults found, by the family of what pointed to them, by kind, and several in one job."""
    seen = looks(history, catalogue)
    hidden = np.array([look.hidden for look in seen])
    present = np.array([look.present for look in seen])
    raised = np.array([look.raised for look in seen]).reshape(len(seen), -1)  # (look, pair)
    factor = np.array([0.0, *priors.hidden_fault.severity_factor])[raised]
    log_odds = effect_at(draws, "base", hidden)  # (draw, look)
    if factor.shape[1]:
        log_odds = log_odds + draws["weight"].transpose("draw", "pair").to_numpy() @ factor.T
    suspected = np.array([look.suspected for look in seen])
    if suspected.any():
        log_odds = log_odds + suspected_shift(draws, priors.hidden_fault)[:, None] * suspected
    shows = np.array([priors.hidden_fault.look_shows(catalogue.hidden_kinds[place].slug) for place in hidden])
    found = rng.random(log_odds.shape) < shows * expit(log_odds)
    pointed = raised.any(axis=1)
    family = np.array([catalogue.kinds[raiser].family for raiser, _ in raising_pairs(catalogue)])
    names = {one.slug: one.name for one in catalogue.family}
    wanted = [("hidden faults found, nothing pointing to them", ~pointed)]
    wanted += [
        (f"hidden faults found, pointed to by {name}", raised[:, family == slug].any(axis=1))
        for slug, name in names.items()
    ]
    kinds = {place: kind.name for place, kind in enumerate(catalogue.hidden_kinds)}
    wanted += [(f"found inside: {name}", held) for name, held in groups(hidden, kinds, LEAST)]
    told = [counted(name, present[held], found[:, held]) for name, held in wanted if held.sum() >= LEAST]
    jobs, job = np.unique([look.job for look in seen], return_inverse=True)
    several = np.bincount(job, present, len(jobs)) >= 2
    each = np.zeros((len(found), len(jobs)))
    np.add.at(each.T, job, found.T)
    return [*told, counted("opened jobs with two hidden faults or more", several, each >= 2)]


def comebacks(
    history: History, catalogue: Catalogue, priors: PriorSet, draws: xr.Dataset, rng: np.random.Generator
) -> list[Replicated]:
    """Comebacks: all, those of the first month, by family fixed, and of jobs with many repairs."""
    warranty = priors.comeback.warranty_days
    ended, came_back = watched(history, warranty)
    days, returned = watch(history, warranty)
    # One that came back would else have been watched to the end; other returns end it for all.
    days = np.where(came_back, np.maximum(days, ended), ended)
    findings = fixed_findings(history, catalogue)  # (job, family)
    exposed = (ended > 0) & (findings.sum(axis=1) > 0)
    days, returned, findings = days[exposed], returned[exposed], findings[exposed]
    came_back = came_back[exposed]
    rate = np.exp(draws["log_rate"].transpose("draw", "family").to_numpy()) @ findings.T  # (draw, job)
    later = draws["later"].transpose("draw", "later_piece").to_numpy()
    piece = np.exp(np.column_stack([np.zeros(len(later)), later]))  # (draw, piece)
    patience = rng.exponential(size=rate.shape)
    back = rate * (piece @ exposure_by_piece(days).T) > patience
    month = float(PIECE_ENDS[0])
    early = rate * (piece @ exposure_by_piece(np.minimum(days, month)).T) > patience
    many = findings.sum(axis=1) >= 3
    found = [
        counted("comebacks", came_back, back),
        counted("comebacks in the first 30 days", came_back & (returned <= month), early),
    ]
    if many.sum() >= LEAST:
        found.append(counted("comebacks of jobs with three repairs or more", came_back[many], back[:, many]))
    for place, family in enumerate(dict.fromkeys(kind.family for kind in catalogue.kind)):
        held = findings[:, place] > 0
        if held.sum() >= LEAST:
            name = f"comebacks after a repair of {catalogue.families[family].name}"
            found.append(counted(name, came_back[held], back[:, held]))
    return found
