"""Bench minutes of one attempt, on the log scale.

`location = typical minutes of the kind + kind effect (about shop + family) + severity
+ method (+ what failing adds)`. An attempt is ordinary, or now and then gets stuck: a
mixture of two normals with bounded spreads. Work stops at the give-up time: a
failed attempt that reached it tells only that it would have taken at least as
long, so its likelihood is the mixture's mass beyond; one that was fixed ended
before, so its density is over the mass below. The mean of the minutes spent is
finite and known in closed form. (A Student-t on the log scale has a heavy tail
too, and no mean.)
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from triage.design_matrix import AttemptIndices, AttemptLevels, attempt_design
from triage.domain.catalogue import Catalogue
from triage.domain.history import History
from triage.outcome_models.attempt_totals import total_over_rows
from triage.outcome_models.base import OutcomeModel
from triage.outcome_models.data_inputs import of_levels, of_rows
from triage.outcome_models.effects import (
    bounded,
    estimated_spread,
    fixed_zero_sum,
    log_normal_density,
    normal,
    positive,
    zero_sum_effect,
)
from triage.priors.prior_set import PriorSet

STEPS = ("1 to 2", "2 to 3")
# Steps that lie between each severity and the middle one, shape (severity, step).
STEPS_FROM_MIDDLE = np.array([[-1.0, 0.0], [0.0, 0.0], [0.0, 1.0]])
# Bench clocks are not read finer than this; equal readings are counted together.
CLOCK = 0.5


@dataclass(frozen=True)
class BenchMinutesDesign:
    """Attempts with recorded minutes, counted by cell and reading.

    coords : `kind`, `family`, `method` (those that are not usual), `step`.
    family : ndarray of int, shape (kind,).
    typical : ndarray, shape (kind,), log of the minutes believed.
    kind, severity, method, failed : ndarray, shape (cell,); `severity` counts
        from 0, `method` is -1 where the usual one was used.
    cell : ndarray of int, shape (reading,); minutes : shape (reading,);
    count : shape (reading,), attempts with that reading.
    give_up : minutes at which work stops; readings there are of attempts stopped,
        where they failed.
    """

    coords: dict[str, tuple[str, ...]]
    family: np.ndarray
    typical: np.ndarray
    kind: np.ndarray
    severity: np.ndarray
    method: np.ndarray
    failed: np.ndarray
    cell: np.ndarray
    minutes: np.ndarray
    count: np.ndarray
    give_up: float


def prior_design(catalogue: Catalogue, priors: PriorSet) -> BenchMinutesDesign:
    """Return the design without attempts."""
    empty = attempt_design(None, catalogue)
    return _design(empty.levels, empty.indices, empty.fixed, np.zeros(0), catalogue, priors)


def design(history: History, catalogue: Catalogue, priors: PriorSet) -> BenchMinutesDesign | None:
    """Count attempts by cell and reading, or None when no attempt has minutes.

    The minutes of an attempt that closes several findings are summed over its
    rows. Longer ones than the give-up time count as just that.
    """
    if not history.has("minutes"):
        return None
    attempts = attempt_design(history, catalogue)
    spent = total_over_rows(attempts.attempts, history.rows["minutes"])
    if not (spent > 0).any():
        return None
    return _design(attempts.levels, attempts.indices, attempts.fixed, spent, catalogue, priors)


def on_the_clock(spent: np.ndarray, give_up: float) -> np.ndarray:
    """Minutes as the model counts them: as fine as a bench clock is read, stopped at the give-up time."""
    return np.clip(np.round(spent / CLOCK) * CLOCK, CLOCK, give_up)


def _design(
    levels: AttemptLevels,
    indices: AttemptIndices,
    fixed: np.ndarray,
    spent: np.ndarray,
    catalogue: Catalogue,
    priors: PriorSet,
) -> BenchMinutesDesign:
    believed = priors.bench_minutes
    coords = {name: levels.coords.get(name, ()) for name in ("kind", "family", "method")}
    families = [catalogue.kinds[kind].family for kind in coords["kind"]]
    timed = spent > 0
    clock = on_the_clock(spent[timed], believed.give_up_minutes)
    columns = [indices.kind, indices.severity, indices.method, ~fixed]
    table = np.column_stack([column[timed] for column in columns])  # (attempt, 4)
    cells, cell_of = np.unique(table, axis=0, return_inverse=True)
    readings, count = np.unique(np.column_stack([cell_of, clock]), axis=0, return_counts=True)
    return BenchMinutesDesign(
        coords={**coords, "step": STEPS},
        family=levels.family,
        typical=np.log([believed.typical(*pair) for pair in zip(coords["kind"], families, strict=True)]),
        kind=cells[:, 0],
        severity=cells[:, 1],
        method=cells[:, 2],
        failed=cells[:, 3].astype(bool),
        cell=readings[:, 0].astype(np.intp),
        minutes=readings[:, 1],
        count=count,
        give_up=believed.give_up_minutes,
    )


def build(design: BenchMinutesDesign, priors: PriorSet) -> Any:
    """Return the PyMC model of a design."""
    import pymc as pm
    import pytensor.tensor as pt

    believed = priors.bench_minutes
    with pm.Model(coords=design.coords) as model:
        level = normal("level", believed.level)
        families = len(design.coords["family"])
        family = zero_sum_effect(
            "family_effect",
            "family",
            families,
            believed.family_scale,
            believed.family_scale_fixed,
            informed=True,
        )
        # Sampled as it is, about its family's middle: most kinds are told by their own rows.
        kind_sd = estimated_spread("kind_sd", believed.kind_scale)
        family_of = of_levels("family_of", design.family)
        kind = pm.Normal("kind_effect", level + pt.as_tensor(family)[family_of], kind_sd, dims="kind")
        usual = pm.Deterministic("log_minutes", of_levels("typical", design.typical) + kind, dims="kind")
        step = positive("severity_step", believed.severity_step, dims="step")
        method = np.zeros(0)
        if design.coords["method"]:
            method = pm.Normal("method_effect", 0.0, believed.method_sd, dims="method")
        shared = normal("failed_shared", believed.failed)
        by_family = fixed_zero_sum("failed_family", "family", families, believed.failed_family_sd)
        failed = pm.Deterministic("failed_effect", shared + by_family, dims="family")
        spread = bounded("spread", believed.spread)
        share = pm.Beta("tail_share", believed.tail_share.alpha, believed.tail_share.beta)
        shift = bounded("tail_shift", believed.tail_shift)
        tail = bounded("tail_spread", believed.tail_spread)
        if len(design.count):
            kind_of = of_rows("kind", design.kind)
            location = (  # (cell,)
                usual[kind_of]
                + pt.dot(of_rows("steps", STEPS_FROM_MIDDLE[design.severity]), step)
                + pt.concatenate([method, np.zeros(1)])[of_rows("method", design.method)]
                + of_rows("failed", design.failed.astype(float)) * failed[family_of[kind_of]]
            )
            pm.Potential("minutes", _log_likelihood(design, location, spread, share, shift, tail))
    return model


def _log_likelihood(
    design: BenchMinutesDesign, location: Any, spread: Any, share: Any, shift: Any, tail: Any
) -> Any:
    """Return the log-likelihood of all readings: of fixed attempts given that they ended before give-up."""
    import pytensor.tensor as pt

    log_minutes = of_rows("log_minutes", np.log(design.minutes))
    at = location[of_rows("cell", design.cell)]  # (reading,)
    ordinary = pt.log1p(-share) + log_normal_density(log_minutes, at, spread)
    stuck = pt.log(share) + log_normal_density(log_minutes, at + shift, tail)
    halted = (design.minutes >= design.give_up) & design.failed[design.cell]  # (reading,)
    ended = design.count * ~halted
    attempts, done = (np.bincount(design.cell, n, minlength=len(design.kind)) for n in (design.count, ended))
    stopped, fixed = attempts - done, attempts * ~design.failed  # (cell,)
    # Beyond the give-up time where it failed, below it where it was fixed: the other side, mirrored.
    side = of_rows("side", np.where(design.failed, 1.0, -1.0))
    mass = pt.logaddexp(
        pt.log1p(-share) + _log_beyond(side * np.log(design.give_up), side * location, spread),
        pt.log(share) + _log_beyond(side * np.log(design.give_up), side * (location + shift), tail),
    )
    densities = pt.sum(of_rows("ended", ended) * pt.logaddexp(ordinary, stuck))
    return densities + pt.sum(of_rows("beyond", stopped - fixed) * mass)


def _log_beyond(value: Any, mean: Any, sd: Any) -> Any:
    """Log of a normal's mass beyond a value, however far out: erfcx(x) is exp(x^2) erfc(x)."""
    import pytensor.tensor as pt

    # Below -6 the mass is 1 to the last digit, and erfcx would overflow.
    x = pt.maximum((value - mean) / (sd * np.sqrt(2)), -6.0)
    return pt.log(pt.erfcx(x) / 2) - x**2


MODEL = OutcomeModel(
    name="bench_minutes",
    purpose="how long an attempt takes at the bench",
    needs="minutes of at least one attempt",
    design=design,
    prior_design=prior_design,
    build=build,
    stored=(
        "log_minutes", "severity_step", "method_effect", "failed_effect",
        "spread", "tail_share", "tail_shift", "tail_spread",
    ),
    form=2,  # 1 left out how many attempts were stopped at the give-up time
)  # fmt: skip
