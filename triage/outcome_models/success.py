"""Success of a repair: partial pooling over kinds, with one shared effect a job.

    eta = kind (its assumption, shifted with the shop and its family) + severity
          + tier + technician + cause + method + period
          - after_failure (where another method has failed on the finding)
    chance in a job = expit(m(eta, job_sd) + u[job])

`eta` is the logit of the fresh chance (`fresh_job`). `u ~ N(0, job_sd)` is
integrated out. Family, tier, technician and cause sum to
zero over their levels; severity falls from grade to grade, by a size of its
family's and a little of the kind's own; a method's effect is its difference
from the kind's usual method. A second try is made only where a first one failed, so its
chance is the one given that failure, and the first try's is left as it is.

The shop drifts: its effect in the record's last period is 0, and from one
period to the one before it changes by `N(0, drift_sd^2 x quarters)`. What is
believed of a kind is believed of the middle of the record, the drift's mean
over its attempts; `kind_logit` is that of the record's end.

The chance learned is that of findings like those the shop worked on.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from triage.design_matrix import FACTORS, AttemptDesign, AttemptIndices, Hopeless, attempt_design
from triage.domain.catalogue import Catalogue
from triage.domain.history import History
from triage.domain.periods import quarters_between
from triage.outcome_models.base import OutcomeModel
from triage.outcome_models.data_inputs import of_levels, of_rows
from triage.outcome_models.effects import estimated_spread, normal
from triage.outcome_models.integrated_likelihood import (
    choose_nodes,
    likely_job_sd,
    rough_logits,
)
from triage.priors.kind_beliefs import KindBeliefs, kind_beliefs, shared_variance, spread_centre
from triage.priors.prior_set import PriorSet
from triage.priors.tuned_jobs import refuse_double_use

# A factor with fewer levels cannot tell its own scale: it gets a fixed one.
LEVELS_FOR_A_SCALE = 5
# What attempts tell of a logit, successes times failures over attempts, from which on the effects of a
# factor are sampled as they are.
TELLS_OF_A_LEVEL = 40
# From so many times what its assumption tells on, so is a kind's.
TELLS_OF_A_KIND = 3.5

STORED = (
    "kind_logit", "severity_effect", "tier_effect", "technician_effect", "cause_effect", "method_effect",
    "job_sd", "after_failure", "shop", "kind_spread", "family_effect", "family_sd",
    "tier_sd", "technician_sd", "cause_sd", "period_effect", "drift_sd", "drift_middle",
)  # fmt: skip


@dataclass(frozen=True)
class SuccessDesign:
    """What the success model is built from.

    attempts : the encoded record (no rows for draws from the prior).
    beliefs : the assumption about each kind.
    method_logit, method_sd : ndarray, shape (method,), prior of each method's difference.
    nodes : ndarray of int, shape (pattern,), quadrature nodes for each distinct job.
    """

    attempts: AttemptDesign
    beliefs: KindBeliefs
    method_logit: np.ndarray
    method_sd: np.ndarray
    nodes: np.ndarray

    @property
    def coords(self) -> dict[str, tuple[str, ...]]:
        """Labels by dimension."""
        return {**self.attempts.coords, "step": ("1 to 2", "2 to 3")}


def design(
    history: History | None, catalogue: Catalogue, priors: PriorSet, hopeless: Hopeless = "missing"
) -> SuccessDesign | None:
    """Encode a history for the success model; None when it holds no attempt.

    Raises
    ------
    HistoryError : the assumptions were tuned on some of its jobs.
    """
    if history is not None:
        refuse_double_use(history, priors.tuned)
    encoded = attempt_design(history, catalogue, hopeless)
    if history is not None and not len(encoded.fixed):
        return None
    methods = [priors.repairs.repair_belief(slug) for slug in encoded.coords.get("method", ())]
    nodes = np.zeros(0, dtype=np.intp)
    if len(encoded.fixed):
        patterns = encoded.patterns
        rough = rough_logits(patterns, len(encoded.coords["kind"]))
        nodes = choose_nodes(rough, likely_job_sd(rough, patterns), patterns)
    return SuccessDesign(
        attempts=encoded,
        beliefs=kind_beliefs(catalogue, priors.success),
        method_logit=np.array([belief.method_logit for belief in methods]),
        method_sd=np.array([belief.method_sd for belief in methods]),
        nodes=nodes,
    )


def prior_design(catalogue: Catalogue, priors: PriorSet) -> SuccessDesign:
    """Return the design with no rows."""
    made = design(None, catalogue, priors)
    assert made is not None
    return made


def build(made: SuccessDesign, priors: PriorSet) -> Any:
    """Build the PyMC model of a design."""
    import pymc as pm
    import pytensor.tensor as pt

    beliefs, scales = priors.success, priors.success.scales
    coords = {name: list(labels) for name, labels in made.coords.items()}
    families = made.attempts.levels.family
    record = made.attempts
    of_kind = made.beliefs.sd**2 * told(
        np.bincount(record.indices.kind, minlength=len(families)),
        np.bincount(record.indices.kind, record.fixed, len(families)),
    )
    of_all = float(told(np.array(len(record.fixed)), np.array(record.fixed.sum())))
    with pm.Model(coords=coords) as model:
        family_of, believed = of_levels("family_of", families), _as_inputs(made.beliefs)
        job_sd = pm.HalfNormal("job_sd", scales.job)
        shop = pm.Normal("shop", 0.0, scales.shop)
        families_there = len(coords["family"])
        family, family_sd = _factor(pm, "family", families_there, scales.family_fixed, scales.family)
        kind_spread = pm.LogNormal("kind_spread", spread_centre(scales.kind_spread), scales.kind_spread)
        variance = shared_variance(scales.shop, family_sd, families_there)
        share, own_sd = believed.parts(variance, kind_spread, pt)
        together = shop if family is None else shop + family[family_of]
        drift, middle = _drift(pm, pt, made.attempts, scales.drift)
        kind = _kinds(pm, pt, believed.mean + share * together, own_sd, of_kind)
        kind_logit = pm.Deterministic("kind_logit", kind - middle, dims="kind")  # at the record's end
        severity = _severity(pm, pt, beliefs.severity, family_of)
        cells = _cells(made.attempts.patterns.cells, coords)
        logits = kind_logit[cells.kind] + severity[cells.kind, cells.severity]
        for name in FACTORS:
            levels = len(coords.get(name, ()))
            effect, _ = _factor(pm, name, levels, scales.factor_fixed, scales.factor, of_all)
            if effect is not None:
                logits = logits + _pick(pt, effect, getattr(cells, name))
        if "method" in coords:
            mean, sd = of_levels("method_logit", made.method_logit), of_levels("method_sd", made.method_sd)
            method = pm.Normal("method_effect", mean, sd, dims="method")
            logits = logits + _pick(pt, method, cells.method)
        if "period" in coords:
            logits = logits + drift[cells.period]
        after_failure = normal("after_failure", beliefs.after_failure)
        logits = logits - after_failure * cells.again
        if len(made.nodes):
            from triage.outcome_models.likelihood_op import log_likelihood

            patterns = made.attempts.patterns
            pm.Potential("attempts", log_likelihood(logits, job_sd, patterns, made.nodes))
    return model


def _cells(cells: AttemptIndices, coords: dict[str, Any]) -> AttemptIndices:
    """Indices of the distinct attempts, those of effects that are in the model as inputs of it."""
    there = {
        "kind",
        "severity",
        "again",
        *(name for name in (*FACTORS, "method", "period") if name in coords),
    }
    return replace(cells, **{name: of_rows(f"cell_{name}", getattr(cells, name)) for name in sorted(there)})


def _as_inputs(beliefs: KindBeliefs) -> KindBeliefs:
    """Assumptions about the kinds as inputs of the model."""
    return KindBeliefs(
        **{name: of_levels(f"belief_{name}", getattr(beliefs, name)) for name in ("mean", "sd", "stated")}
    )


def told(attempts: np.ndarray, fixed: np.ndarray) -> np.ndarray:
    """What outcomes tell of a logit: its information at their own rate."""
    return fixed * (attempts - fixed) / np.maximum(attempts, 1)


def _kinds(pm: Any, pt: Any, centre: Any, sd: Any, tells: np.ndarray) -> Any:
    """Logit of each kind, shape (kind,): normal about `centre` with `sd`, of that shape.

    A kind of which the record tells much more than the assumption is sampled as it is, the others as
    multiples of their sd. tells : shape (kind,), what the record tells over what the assumption does.
    """
    often = of_levels("often", tells >= TELLS_OF_A_KIND)
    own = pm.Normal("kind_own", pt.where(often, centre, 0.0), pt.where(often, sd, 1.0), dims="kind")
    return pt.where(often, own, centre + sd * own)


def _factor(
    pm: Any, name: str, levels: int, fixed: float, scale: float, tells: Any = 0.0
) -> tuple[Any | None, Any]:
    """Zero-sum effect of a factor, named `<name>_effect`, and its sd; None and 0 below two levels.

    Where the record tells much of every level, its effects are sampled as
    they are; elsewhere as multiples of their sd, which mixes better when the
    prior decides.
    """
    if levels < 2:
        return None, 0.0
    if levels < LEVELS_FOR_A_SCALE:
        sd = pm.Deterministic(f"{name}_sd", pm.math.constant(fixed))
        return pm.ZeroSumNormal(f"{name}_effect", sigma=fixed, dims=name), sd
    sd = estimated_spread(f"{name}_sd", scale)
    if tells / levels >= TELLS_OF_A_LEVEL:
        return pm.ZeroSumNormal(f"{name}_effect", sigma=sd, dims=name), sd
    unit = pm.ZeroSumNormal(f"{name}_unit", sigma=1.0, dims=name)
    return pm.Deterministic(f"{name}_effect", sd * unit, dims=name), sd


def _drift(pm: Any, pt: Any, attempts: AttemptDesign, scale: float) -> tuple[Any, Any]:
    """Effect of each period, shape (period,), a walk back from 0 in the last; and its mean over attempts.

    What is believed of kinds is believed of them in that middle of the record,
    which is what a record tells. Of its end, kinds would trade off against
    every period, and a record of failures only could be had from a drift.
    """
    periods = len(attempts.coords.get("period", ()))
    if not periods:
        return None, 0.0
    sd = estimated_spread("drift_sd", scale)
    reach = of_levels("drift_reach", np.sqrt(quarters_between(periods)))
    steps = sd * reach * pm.Normal("drift_step", 0.0, 1.0, shape=periods - 1)  # from each period to the next
    walk = pt.concatenate([pt.cumsum(steps[::-1])[::-1], pt.zeros(1)])
    effect = pm.Deterministic("period_effect", walk, dims="period")
    held = np.bincount(attempts.indices.period, minlength=periods) / max(len(attempts.fixed), 1)
    return effect, pm.Deterministic("drift_middle", pt.dot(effect, of_levels("period_share", held)))


def _severity(pm: Any, pt: Any, belief: Any, family_of: Any) -> Any:
    """Effect of each severity on each kind, shape (kind, 3): 0 at severity 2, falling."""
    size = pm.Normal("log_step", np.log(belief.step), belief.step_spread, dims="step")
    own = pm.Normal("family_step", 0.0, 1.0, dims=("family", "step"))
    kinds = pm.Normal("kind_step", 0.0, 1.0, dims=("kind", "step"))
    log_step = size + belief.family_spread * own[family_of] + belief.kind_spread * kinds  # (kind, step)
    step = pt.exp(log_step)
    effect = pt.stack([step[:, 0], pt.zeros_like(step[:, 0]), -step[:, 1]], axis=1)
    return pm.Deterministic("severity_effect", effect, dims=("kind", "severity"))


def _pick(pt: Any, effect: Any, index: Any) -> Any:
    """Effect of each cell's level; 0 where the cell has none."""
    # Index -1 then reads the zero at the end.
    return pt.concatenate([effect, pt.zeros(1)])[index]


MODEL = OutcomeModel(
    name="success",
    purpose="chance that a repair passes final verification",
    needs="rows whose outcome is fixed or not-fixed",
    design=design,
    prior_design=prior_design,
    build=build,
    stored=STORED,
    form=3,  # 1 had an effect that two tries of one finding shared; 2 logits of a job of average effect
)
