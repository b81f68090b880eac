"""Beliefs at work: stated, beside the record, in money, and where the two pull apart.

Each function returns a frozen result that a page or a command renders as it stands.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import numpy as np

from triage.design_matrix import attempt_design, forgetting
from triage.domain.catalogue import Catalogue
from triage.domain.history import History
from triage.domain.units import Unit
from triage.elicitation.conflict import KindConflict, kind_conflicts
from triage.elicitation.prior_predictive import PredictedCount, count_from_belief, count_from_draws
from triage.elicitation.quantile_matching import MatchedBelief, Quantile, match_belief
from triage.elicitation.statement import Statement
from triage.elicitation.success_prior import success_prior_draws
from triage.errors import BeliefError, Fault, HistoryError, StalePosteriorError, nearest
from triage.ledger.history_csv import read_history
from triage.policy.assessment import Assessment
from triage.posterior.interval import interval
from triage.posterior.manifest import Manifest, ModelRecord
from triage.posterior.store import Posterior
from triage.prediction.success import fresh_chances
from triage.priors.prior_set import PriorSet
from triage.priors.success import Belief, KindBelief
from triage.workflows.assess import assess
from triage.workflows.fit import counts
from triage.workflows.shop import Shop


@dataclass(frozen=True)
class StatedBelief:
    """A statement turned into a belief, with what it implies.

    matched : the belief by itself, asked against achieved.
    belief : as the prior file would hold it; before : what the file holds now.
    in_fit : the same quantiles of the chance as a fit starts from it, where the
        whole shop and the family may be off as well.
    alone, together : of 20 fresh jobs, what the belief by itself implies, and
        what it implies as the fit starts from it.
    """

    matched: MatchedBelief
    belief: KindBelief
    before: Belief
    in_fit: tuple[Quantile, ...]
    alone: PredictedCount
    together: PredictedCount


def state_belief(
    kind: str, statement: Statement, catalogue: Catalogue, priors: PriorSet, reason: str = ""
) -> StatedBelief:
    """Turn a statement about one kind into a belief.

    Raises
    ------
    BeliefError : the kind is unknown, or the statement cannot be held.
    """
    repaired = [slug for slug, held in catalogue.kinds.items() if held.role == "repair"]
    if kind not in repaired:
        wrong = f"{kind!r} is not a damage kind that is repaired" + nearest(kind, repaired)
        raise BeliefError([Fault("belief", None, "kind", wrong, "such a kind of the catalogue")])
    matched = match_belief(statement, priors.success.default.jobs, kind)
    belief = KindBelief(kind, matched.chance, matched.jobs, reason)
    chances = prior_chances(catalogue, with_belief(priors, belief))[kind]
    in_fit = tuple(
        replace(item, achieved=float(np.quantile(chances, item.level))) for item in matched.quantiles
    )
    return StatedBelief(
        matched,
        belief,
        priors.success.belief(kind),
        in_fit,
        count_from_belief(belief.chance, belief.jobs),
        count_from_draws(chances),
    )


def with_belief(priors: PriorSet, belief: KindBelief) -> PriorSet:
    """Return the set with one belief in place of what it held about that kind."""
    others = tuple(held for held in priors.success.kind if held.slug != belief.slug)
    return replace(priors, success=replace(priors.success, kind=(*others, belief)))


def prior_chances(catalogue: Catalogue, priors: PriorSet, draws: int = 4000) -> dict[str, np.ndarray]:
    """By kind, draws of the chance of a fresh job at severity 2 before any record, each shape (draw,)."""
    drawn = success_prior_draws(catalogue, priors, draws)
    return dict(zip(catalogue.kinds, fresh_chances(drawn, 2).T, strict=True))


@dataclass(frozen=True)
class Estimate:
    """A chance and its 90 % interval."""

    mean: float
    low: float
    high: float


@dataclass(frozen=True)
class BesideRecord:
    """One kind at severity 2: what was believed, what is believed now, and what was counted."""

    kind: str
    name: str
    believed: Belief
    prior: Estimate
    posterior: Estimate
    attempts: int
    fixed: int


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


@dataclass(frozen=True)
class BeliefInMoney:
    """One device under belief alone and as the shop's record has it.

    learned : what the belief-only answer still takes from the record, in words; "" for nothing.
    """

    belief: Assessment
    record: Assessment
    learned: str


def belief_in_money(
    unit: Unit, shop: Shop, ask: float | None = None, walk_in: bool = False, nothing_learned: bool = False
) -> BeliefInMoney:
    """Expected margin and plan of a device before any data, through the ordinary plan.

    Parameters
    ----------
    nothing_learned : draw every model from its prior, which loads the sampler
        and takes longer; else only the chances of repairs are beliefs, and
        minutes, parts, hidden faults, comebacks and sales stay as recorded.
    """
    if nothing_learned:
        from triage.workflows.fit import belief_only

        believed, learned = belief_only(shop.catalogue, shop.priors).posterior, ""
    else:
        believed, learned = _success_by_belief(shop), "minutes, parts, hidden faults, comebacks and sales"
    return BeliefInMoney(
        assess(unit, replace(shop, posterior=believed), ask, walk_in),
        assess(unit, shop, ask, walk_in),
        learned,
    )


def _success_by_belief(shop: Shop) -> Posterior:
    """The shop's draws with those of the success model replaced by draws from its prior."""
    held = shop.posterior
    record = ModelRecord(belief_only=True, passed=True, why="asked for")
    manifest = replace(
        held.manifest,
        models={**held.manifest.models, "success": record},
        attempts={},
        methods={},
        label="chances of repairs by belief only",
    )
    drawn = success_prior_draws(shop.catalogue, shop.priors, held.draws["success"].sizes["draw"])
    return Posterior({**held.draws, "success": drawn}, manifest)


def conflicts(
    posterior: Posterior, history: History, catalogue: Catalogue, priors: PriorSet
) -> tuple[KindConflict, ...]:
    """Where belief and record pull apart, by kind.

    Parameters
    ----------
    history : the record the draws were fitted to, as `record_behind` reads it.

    Raises
    ------
    StalePosteriorError : the draws started from other beliefs, or are belief only.
    """
    manifest = posterior.manifest
    if "success" in manifest.belief_only:
        raise StalePosteriorError("the draws are belief only: there is no record to set against the beliefs")
    check_beliefs(manifest, priors)
    design = attempt_design(_as_weighted(history, manifest), catalogue)
    return kind_conflicts(posterior.draws["success"], design, catalogue, priors.success)


def _as_weighted(history: History, manifest: Manifest) -> History:
    """Weight old jobs as the fit did, if it forgot any (see `fit_history`)."""
    name = "half_life_days"
    told = {
        key.removeprefix(name): days for key, days in manifest.models["success"].notes.items() if name in key
    }
    if not told:
        return history
    kinds = None if "" in told else [key.removeprefix(" of ") for key in told]
    return forgetting(history, next(iter(told.values())), kinds)


def check_beliefs(manifest: Manifest, priors: PriorSet) -> None:
    """Refuse draws that were fitted from other beliefs."""
    if manifest.prior_hash != priors.digest:
        raise StalePosteriorError(
            f"the draws were fitted from other beliefs ({manifest.prior_hash}) than these ({priors.digest}); "
            "give the set the fit used with --priors, or fit again"
        )


def record_behind(posterior: Posterior, path: Path, catalogue: Catalogue) -> History:
    """Read the record that draws were fitted to, up to the same day.

    Raises
    ------
    HistoryError : the file cannot be read, or is another record.
    """
    manifest = posterior.manifest
    if not manifest.as_of:
        raise StalePosteriorError("the draws were fitted to no record")
    history = read_history(path, catalogue, date.fromisoformat(manifest.as_of))
    if manifest.first:
        history = history.since(date.fromisoformat(manifest.first))
    if history.digest != manifest.data_hash and not _as_counted(history, manifest, catalogue):
        wrong = (
            f"is not the record of {manifest.jobs} jobs up to {manifest.as_of} that the draws were fitted to"
        )
        raise HistoryError(
            [Fault(str(path), None, "file", wrong, "that record, or draws fitted to this one")]
        )
    return history


def _as_counted(history: History, manifest: Manifest, catalogue: Catalogue) -> bool:
    """Whether a record written otherwise has the same jobs, rows and outcomes."""
    same = len(history.jobs) == manifest.jobs and len(history.rows) == manifest.rows
    return same and counts(history, catalogue) == manifest.attempts


def rows_of(table: Sequence[BesideRecord], unit: Unit) -> tuple[BesideRecord, ...]:
    """Return the rows of the kinds found on a unit."""
    kinds = {finding.kind for finding in unit.findings}
    return tuple(row for row in table if row.kind in kinds)
