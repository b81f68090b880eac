"""What was believed, what is believed now, and what was counted, side by side for every kind."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from triage.domain.catalogue import Catalogue
from triage.elicitation.success_prior import success_prior_draws
from triage.posterior.interval import interval
from triage.posterior.store import Posterior
from triage.prediction.success import fresh_chances
from triage.priors.prior_set import PriorSet
from triage.priors.success import Belief


@dataclass(frozen=True)
class Estimate:
    """A chance and its 90 % interval."""

    mean: float
    low: float
    high: float


@dataclass(frozen=True)
class BesideRecord:
    """One kind at severity 2: what was believed, what is believed now, and what was counted.

    believed : as the prior file says it. prior : what a fit starts from, where
        the whole shop and the family may be off as well.
    """

    kind: str
    name: str
    family: str
    believed: Belief
    prior: Estimate
    posterior: Estimate
    attempts: int
    fixed: int


def prior_chances(catalogue: Catalogue, priors: PriorSet, draws: int = 4000) -> dict[str, np.ndarray]:
    """By kind, draws of the chance of a fresh job at severity 2 before any record, each shape (draw,)."""
    drawn = success_prior_draws(catalogue, priors, draws)
    return dict(zip(catalogue.kinds, fresh_chances(drawn, 2).T, strict=True))


def beside_record(posterior: Posterior, priors: PriorSet, catalogue: Catalogue) -> tuple[BesideRecord, ...]:
    """Prior beside posterior beside raw counts, one row a kind that can be repaired.

    Chances are of a fresh job at severity 2; so are the counts.
    """
    before = prior_chances(catalogue, priors)
    draws = posterior.draws["success"]
    after = dict(zip(map(str, draws["kind"].values), fresh_chances(draws, 2).T, strict=True))
    none = ((0, 0),) * 3
    return tuple(
        BesideRecord(
            slug,
            kind.name,
            kind.family,
            priors.success.belief(slug),
            _estimate(before[slug]),
            _estimate(after[slug]),
            *posterior.manifest.attempts.get(slug, none)[1],
        )
        for slug, kind in catalogue.kinds.items()
        if kind.role == "repair"
    )


def _estimate(chances: np.ndarray) -> Estimate:
    low, high = interval(chances)
    return Estimate(float(chances.mean()), float(low), float(high))
