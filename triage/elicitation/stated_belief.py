"""A statement about one kind turned into an assumption, with everything it implies before any record."""

from __future__ import annotations

from dataclasses import dataclass, replace

from triage.domain.catalogue import Catalogue
from triage.elicitation.prior_predictive import PredictedCount, count_from_belief
from triage.elicitation.quantile_matching import MatchedBelief, match_belief
from triage.elicitation.statement import Statement
from triage.errors import BeliefError, Fault, nearest
from triage.priors.prior_set import PriorSet
from triage.priors.success import Belief, KindBelief


@dataclass(frozen=True)
class StatedBelief:
    """A statement turned into an assumption, with what it implies.

    matched : the assumption by itself, asked against achieved.
    belief : the assumption as the prior file would hold it; before : what the file holds now.
    alone, before_alone : of 20 fresh jobs, what it implies, and what the assumption implies
        that the file holds now. A fit starts from just that: errors that the whole shop or
        the family shares are within it (`priors.kind_beliefs`).
    """

    matched: MatchedBelief
    belief: KindBelief
    before: Belief
    alone: PredictedCount
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
    return StatedBelief(
        matched,
        belief,
        before,
        count_from_belief(belief.chance, belief.jobs),
        count_from_belief(before.chance, before.jobs),
    )


def with_belief(priors: PriorSet, belief: KindBelief) -> PriorSet:
    """Return the set with one assumption in place of what it held about that kind."""
    others = tuple(held for held in priors.success.kind if held.slug != belief.slug)
    return replace(priors, success=replace(priors.success, kind=(*others, belief)))
