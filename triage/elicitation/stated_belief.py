"""A statement about one kind turned into an assumption, with everything it implies before any record."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from triage.domain.catalogue import Catalogue
from triage.elicitation.beside_record import prior_chances
from triage.elicitation.prior_predictive import PredictedCount, count_from_belief, count_from_draws
from triage.elicitation.quantile_matching import MatchedBelief, Quantile, match_belief
from triage.elicitation.statement import Statement
from triage.errors import BeliefError, Fault, nearest
from triage.priors.prior_set import PriorSet
from triage.priors.success import Belief, KindBelief


@dataclass(frozen=True)
class StatedBelief:
    """A statement turned into an assumption, with what it implies.

    matched : the assumption by itself, asked against achieved.
    belief : the assumption as the prior file would hold it; before : what the file holds now.
    in_fit : the same quantiles of the chance as a fit starts from it, where the
        whole shop and the family may be off as well.
    alone, together : of 20 fresh jobs, what the assumption by itself implies, and
        what it implies as the fit starts from it.
    before_alone : of 20, what the assumption that the file holds now implies.
    """

    matched: MatchedBelief
    belief: KindBelief
    before: Belief
    in_fit: tuple[Quantile, ...]
    alone: PredictedCount
    together: PredictedCount
    before_alone: PredictedCount


def state_belief(
    kind: str, statement: Statement, catalogue: Catalogue, priors: PriorSet, reason: str = ""
) -> StatedBelief:
    """Turn a statement about one kind into an assumption.

    Raises
    ------
    BeliefError : the kind is unknown, or the statement cannot be held.
    """
    repaired = [slug for slug, held in catalogue.kinds.items() if held.role == "repair"]
    if kind not in repaired:
        wrong = f"{kind!r} is not a damage kind with a repair" + nearest(kind, repaired)
        raise BeliefError(
            [Fault("belief", None, "kind", wrong, "a damage kind of the catalogue with a repair")]
        )
    matched = match_belief(statement, priors.success.default.jobs, kind)
    belief = KindBelief(kind, matched.chance, matched.jobs, reason)
    before = priors.success.belief(kind)
    chances = prior_chances(catalogue, with_belief(priors, belief))[kind]
    in_fit = tuple(
        replace(item, achieved=float(np.quantile(chances, item.level))) for item in matched.quantiles
    )
    return StatedBelief(
        matched,
        belief,
        before,
        in_fit,
        count_from_belief(belief.chance, belief.jobs),
        count_from_draws(chances),
        count_from_belief(before.chance, before.jobs),
    )


def with_belief(priors: PriorSet, belief: KindBelief) -> PriorSet:
    """Return the set with one assumption in place of what it held about that kind."""
    others = tuple(held for held in priors.success.kind if held.slug != belief.slug)
    return replace(priors, success=replace(priors.success, kind=(*others, belief)))
