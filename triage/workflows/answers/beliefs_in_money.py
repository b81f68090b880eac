"""Assumptions at work: in money, beside the record, and where the two disagree.

Each function returns a frozen result that a page or a command renders as it stands.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from triage.design_matrix import attempt_design, forgetting
from triage.domain.catalogue import Catalogue
from triage.domain.history import History
from triage.domain.units.unit import Finding, Unit
from triage.elicitation.beside_record import BesideRecord
from triage.elicitation.conflict import KindConflict, kind_conflicts, worst_first
from triage.elicitation.stated_belief import with_belief
from triage.elicitation.success_prior import success_prior_draws
from triage.errors import StalePosteriorError
from triage.policy.answer.assessment import Assessment
from triage.posterior.manifest import Manifest, ModelRecord
from triage.posterior.store import Posterior
from triage.priors.prior_set import PriorSet
from triage.priors.success import KindBelief
from triage.workflows.answers.assess import assess
from triage.workflows.fitting.record_of_fit import check_beliefs
from triage.workflows.shop.shop import Shop

_STILL_LEARNED = "minutes, parts, hidden faults, comebacks and sales"


@dataclass(frozen=True)
class BeliefInMoney:
    """One device by assumptions only and as the shop's record has it.

    learned : what the answer by assumptions only still takes from the record, in words; "" for nothing.
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
        and takes longer; else only the chances of repairs are assumptions, and
        minutes, parts, hidden faults, comebacks and sales stay as recorded.
    """
    if nothing_learned:
        from triage.workflows.fitting.fit import belief_only

        believed, learned = belief_only(shop.catalogue, shop.priors).posterior, ""
    else:
        believed, learned = _success_by_belief(shop), _STILL_LEARNED
    return BeliefInMoney(
        assess(unit, replace(shop, posterior=believed), ask, walk_in),
        assess(unit, shop, ask, walk_in),
        learned,
    )


@dataclass(frozen=True)
class StatedInMoney:
    """One device by a stated assumption, by what the set says now, and as the shop's record has it.

    learned : as in `BeliefInMoney`.
    """

    stated: Assessment
    before: Assessment
    record: Assessment
    learned: str


def stated_in_money(
    belief: KindBelief, unit: Unit, shop: Shop, ask: float | None = None, walk_in: bool = False
) -> StatedInMoney:
    """What a stated assumption would make of a device before any data, in money.

    Parameters
    ----------
    shop : its `priors` are the set that the assumption would change.
    """
    stated, before = (
        assess(unit, replace(held, posterior=_success_by_belief(held)), ask, walk_in)
        for held in (replace(shop, priors=with_belief(shop.priors, belief)), shop)
    )
    return StatedInMoney(stated, before, assess(unit, shop, ask, walk_in), _STILL_LEARNED)


def example_device(kind: str, shop: Shop) -> Unit:
    """Return a device of the dearest tier with this damage alone: there a repair has most to add."""
    return Unit("", list(shop.prices.tiers())[-1], (Finding(kind),))


def _success_by_belief(shop: Shop) -> Posterior:
    """The shop's draws with those of the success model replaced by draws from its prior."""
    held = shop.posterior
    record = ModelRecord(belief_only=True, passed=True, why="asked for")
    manifest = replace(
        held.manifest,
        models={**held.manifest.models, "success": record},
        attempts={},
        methods={},
        label="repair chances from assumptions only",
    )
    drawn = success_prior_draws(shop.catalogue, shop.priors, held.draws["success"].sizes["draw"])
    return Posterior({**held.draws, "success": drawn}, manifest)


@dataclass(frozen=True)
class KindStanding:
    """One kind: assumption beside record, and how sensitive the chance is to each; None where unknown."""

    row: BesideRecord
    conflict: KindConflict | None


def standing_of_kinds(
    rows: Sequence[BesideRecord], found: Sequence[KindConflict] = ()
) -> tuple[KindStanding, ...]:
    """Put each kind's assumption and record beside its prior sensitivity; those that disagree come first."""
    by_kind = {row.kind: row for row in rows}
    pulled = [KindStanding(by_kind.pop(item.kind), item) for item in worst_first(found)]
    return (*pulled, *(KindStanding(row, None) for row in by_kind.values()))


def conflicts(
    posterior: Posterior, history: History, catalogue: Catalogue, priors: PriorSet
) -> tuple[KindConflict, ...]:
    """Where assumption and record disagree, by kind.

    Parameters
    ----------
    history : the record the draws were fitted to, as `record_of_fit` reads it.

    Raises
    ------
    StalePosteriorError : the draws started from other assumptions, or are assumptions only.
    """
    manifest = posterior.manifest
    if "success" in manifest.belief_only:
        raise StalePosteriorError("the fit uses assumptions only, so there is no record to compare them with")
    check_beliefs(manifest, priors)
    design = attempt_design(_as_weighted(history, manifest), catalogue)
    return kind_conflicts(posterior.draws["success"], design, catalogue, priors.success)


def _as_weighted(history: History, manifest: Manifest) -> History:
    """Weight old jobs as the fit did, if it forgot any (see `fit_history`)."""
    fading = manifest.models["success"].fading
    return history if fading is None else forgetting(history, fading.half_life_days, fading.kinds)


def rows_of(table: Sequence[BesideRecord], unit: Unit) -> tuple[BesideRecord, ...]:
    """Return the rows of the kinds found on a unit."""
    kinds = {finding.kind for finding in unit.findings}
    return tuple(row for row in table if row.kind in kinds)
