"""Comebacks: a hazard per 30 days since the device left, summed over what was fixed.

`hazard(t) = sum over fixed findings of rate(family) x later(piece of t)`, constant
within days 0-30, 31-90 and 91 on. A job is watched from the day it left the
shop until its first comeback, the end of its warranty or the as-of date,
whichever is first: a device sold last week has been exposed for a week, an
unsold one not at all. The log-likelihood of a job is its log hazard at the
comeback, if it had one that counts, less its hazard summed over its exposure.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from triage.domain.catalogue import Catalogue
from triage.domain.history import COMEBACK_COUNTS, WRITTEN_OFF, History
from triage.domain.tries import fixed_in_the_end
from triage.outcome_models.base import OutcomeModel
from triage.outcome_models.data_inputs import of_levels, of_rows
from triage.outcome_models.effects import normal, zero_sum_effect
from triage.priors.comeback import exposure_by_piece, piece_of
from triage.priors.prior_set import PriorSet

LATER = ("31 to 90", "91 on")


@dataclass(frozen=True)
class ComebackDesign:
    """Exposure and comebacks of all jobs that left the shop.

    coords : `family`, `later_piece`.
    typical : ndarray, shape (family,), log rate believed.
    exposure : ndarray, shape (family, piece), 30-day months under warranty,
        each job's counted once for every damage of the family fixed on it.
    events : ndarray of int, shape (piece,), comebacks.
    event_findings : ndarray of int, shape (pattern, family), how much damage was fixed on
        jobs that came back; event_count : shape (pattern,), such jobs.
    """

    coords: dict[str, tuple[str, ...]]
    typical: np.ndarray
    exposure: np.ndarray
    events: np.ndarray
    event_findings: np.ndarray
    event_count: np.ndarray


def prior_design(catalogue: Catalogue, priors: PriorSet) -> ComebackDesign:
    """Return the design without jobs."""
    families = _families(catalogue)
    nothing = np.zeros((0, len(families)), dtype=int)
    return _design(nothing, np.zeros(0), np.zeros(0, dtype=bool), families, priors)


def design(history: History, catalogue: Catalogue, priors: PriorSet) -> ComebackDesign | None:
    """Sum exposures and count comebacks, or None when no job is known to have left the shop."""
    if not (history.has("sold_date") or history.has("closed")):
        return None
    days, came_back = watched(history, priors.comeback.warranty_days)
    families = _families(catalogue)
    findings = fixed_findings(history, catalogue)
    exposed = (days > 0) & (findings.sum(axis=1) > 0)
    if not exposed.any():
        return None
    return _design(findings[exposed], days[exposed], came_back[exposed], families, priors)


def fixed_findings(history: History, catalogue: Catalogue) -> np.ndarray:
    """Count the damage of each family that was fixed in the end on each job, shape (job, family)."""
    jobs, families = history.jobs, _families(catalogue)
    place = {slug: index for index, slug in enumerate(families)}
    rows = history.rows[fixed_in_the_end(history.rows)]
    fixed = rows.drop_duplicates([name for name in ("job", "finding", "zone") if name in rows])
    family = np.array([place[catalogue.kinds[slug].family] for slug in fixed["finding"]], dtype=np.intp)
    findings = np.zeros((len(jobs), len(families)), dtype=int)
    np.add.at(findings, (jobs.index.get_indexer(pd.Index(fixed["job"])), family), 1)
    return findings


def watched(history: History, warranty_days: int) -> tuple[np.ndarray, np.ndarray]:
    """Days each job was watched for, and whether a comeback that counts ended them.

    A device is out of the shop when it is handed over: sold, or fetched by its
    owner. One that was never fetched, stripped or disposed of is not watched. A
    comeback on the day it left counts as half a day of exposure.
    """
    days, returned = watch(history, warranty_days)
    jobs = history.jobs
    within = (returned >= 0) & (returned <= days)
    ended = np.where(within, np.maximum(returned, 0.5), days)
    counts = jobs["comeback_kind"].isin(COMEBACK_COUNTS).to_numpy() if "comeback_kind" in jobs else True
    return np.maximum(ended, 0.0), within & counts


def watch(history: History, warranty_days: int) -> tuple[np.ndarray, np.ndarray]:
    """Days each job would be watched for without a comeback, and days until it came back, if it did.

    Returns
    -------
    days, returned : ndarray, shape (job,); `returned` is nan where it never did.
    """
    jobs = history.jobs
    never = pd.Series(pd.NaT, index=jobs.index, dtype="datetime64[ns]")
    sold, closed = jobs.get("sold_date", never), jobs.get("closed", never)
    # A record that tells no hand-over at all: the day a job was closed stands in.
    left = sold if "sold_date" in jobs else closed
    if "ending" in jobs:
        left = left.where(~jobs["ending"].isin(WRITTEN_OFF))
    stated = jobs["warranty_days"] if "warranty_days" in jobs else pd.Series(np.nan, index=jobs.index)
    warranty = stated.astype(float).fillna(warranty_days).to_numpy()
    seen = (pd.Timestamp(history.as_of) - left).dt.days.to_numpy(dtype=float)  # (job,), NaN if not left
    days = np.minimum(np.nan_to_num(seen, nan=0.0), warranty)
    returned = (jobs.get("comeback_date", never) - left).dt.days.to_numpy(dtype=float)
    return days, returned


def _families(catalogue: Catalogue) -> tuple[str, ...]:
    return tuple(dict.fromkeys(kind.family for kind in catalogue.kind))


def _design(
    findings: np.ndarray, days: np.ndarray, came_back: np.ndarray, families: tuple[str, ...], priors: PriorSet
) -> ComebackDesign:
    patterns = Counter(tuple(int(n) for n in row) for row in findings[came_back])
    return ComebackDesign(
        coords={"family": families, "later_piece": LATER},
        typical=np.log([priors.comeback.typical(slug) for slug in families]),
        exposure=findings.T @ exposure_by_piece(days),
        events=np.bincount(piece_of(days[came_back]), minlength=1 + len(LATER)),
        event_findings=np.array(list(patterns), dtype=int).reshape(-1, len(families)),
        event_count=np.array(list(patterns.values()), dtype=int),
    )


def build(design: ComebackDesign, priors: PriorSet) -> Any:
    """Return the PyMC model of a design."""
    import pymc as pm
    import pytensor.tensor as pt

    believed = priors.comeback
    with pm.Model(coords=design.coords) as model:
        level = normal("level", believed.level)
        families = len(design.coords["family"])
        effect = zero_sum_effect(
            "family_effect", "family", families, believed.family_scale, believed.family_scale_fixed
        )
        log_rate = pm.Deterministic(
            "log_rate", of_levels("typical", design.typical) + level + effect, dims="family"
        )
        means, spreads = zip(*((belief.mean, belief.sd) for belief in believed.later), strict=True)
        later = pm.Normal("later", means, spreads, dims="later_piece")
        if design.exposure.any():
            piece = pt.concatenate([np.zeros(1), later])  # (piece,)
            exposure = of_levels("exposure", design.exposure)
            findings = of_rows("event_findings", design.event_findings.astype(float))
            summed = pt.sum(exposure * pt.exp(log_rate[:, None] + piece[None, :]))
            at_event = pt.log(pt.dot(findings, pt.exp(log_rate)))  # (pattern,)
            events = pt.sum(of_rows("event_count", design.event_count) * at_event)
            events += pt.sum(of_levels("events", design.events) * piece)
            pm.Potential("comebacks", events - summed)
    return model


MODEL = OutcomeModel(
    name="comeback",
    purpose="how often a repaired device comes back under warranty",
    needs="sold_date or closed of at least one job with something fixed",
    design=design,
    prior_design=prior_design,
    build=build,
    stored=("log_rate", "later"),
)
