"""Fit every outcome model to a history, and store what came of it.

Each model stands for itself. One that passes the gate is used; where one does
not, draws from its prior stand in for it, so that nothing rests on chains that
disagree, and nothing on another shop's record. Only a fit of which no model
passes is refused whole: the posterior that was current then stays.

Draws that the gate refused are kept in `FOLDER/rejected-<draws>/`, with their
diagnostics, to be looked at.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from triage.design_matrix import attempts, forgetting
from triage.domain.catalogue import Catalogue
from triage.domain.history import History
from triage.domain.intake_grades import grade_counts
from triage.domain.job.digests import job_digests
from triage.posterior.manifest import Fading, LikelihoodChecks, Manifest, ModelRecord, structure_digest
from triage.posterior.store import Posterior, save_posterior
from triage.priors.prior_set import PriorSet

if TYPE_CHECKING:
    from triage.outcome_models.base import OutcomeModel

Progress = Callable[[dict[str, Any]], None]


@dataclass(frozen=True)
class FitResult:
    """A fit as it left the sampler; nothing is on disk yet.

    posterior : draws and manifest. `manifest.current` is False when no model passed the gate.
    failures : by model, why it failed.
    set_aside : draws of the models that failed, where their prior stands in for them in
        `posterior`, beside the records of all; None where no model failed, or all did.
    """

    posterior: Posterior
    failures: dict[str, tuple[str, ...]]
    set_aside: Posterior | None = None

    @property
    def current(self) -> bool:
        """Whether the fit may be used for decisions."""
        return self.posterior.manifest.current


@dataclass(frozen=True)
class StoredFit:
    """Where a fit was put.

    folder : the out folder, or the rejected one inside it.
    set_aside : folder of the refused draws of a fit that is in use without them.
    """

    folder: Path
    current: bool
    manifest: Manifest
    set_aside: Path | None = None


def fit_history(
    history: History,
    catalogue: Catalogue,
    priors: PriorSet,
    seed: int = 1,
    progress: Progress | None = None,
    models: Iterable[str] | None = None,
    settings: Any = None,
    hopeless_both_ways: bool = True,
    label: str = "",
    half_life: float | None = None,
    half_life_kinds: Collection[str] | None = None,
) -> FitResult:
    """Fit every registered outcome model.

    Parameters
    ----------
    progress : called with small dictionaries: `event`, `model` and more.
    models : names of those to fit; the others keep draws from their priors.
    settings : SamplerSettings; the defaults when None.
    hopeless_both_ways : fit success a second time with "looked hopeless"
        counted as failed, and keep the gap.
    label : what the draws will be called on screens.
    half_life, half_life_kinds : as for `design_matrix.forgetting`; None forgets nothing.
    """
    from triage.inference.predictive_checks import predictive_checks
    from triage.inference.sampling import SamplerSettings, belief_draws
    from triage.outcome_models.registry import MODELS

    settings = settings or SamplerSettings()
    learned = forgetting(history, half_life, half_life_kinds) if half_life else history
    fading = None
    if half_life:
        fading = Fading(half_life, None if half_life_kinds is None else tuple(half_life_kinds))
    tell = progress or (lambda event: None)
    wanted = set(MODELS) if models is None else set(models)
    draws, records, failures = {}, {}, {}

    def believed(model: OutcomeModel) -> xr.Dataset:
        built = model.build(model.prior_design(catalogue, priors), priors)
        return belief_draws(built, model.stored, seed, settings)

    for place, (name, model) in enumerate(MODELS.items()):
        tell({"event": "model", "model": name, "purpose": model.purpose, "place": place, "of": len(MODELS)})
        design = model.design(learned, catalogue, priors) if name in wanted else None
        if design is None:
            draws[name] = believed(model)
            why = f"the record lacks {model.needs}" if name in wanted else "not asked for"
            records[name] = ModelRecord(belief_only=True, passed=True, why=why)
            continue
        fitted, likelihood = _fit_one(model, design, priors, seed, settings, tell)
        draws[name] = fitted.draws
        if fitted.failures:
            failures[name] = fitted.failures
        tell({"event": "checking", "model": name})
        records[name] = ModelRecord(
            belief_only=False,
            passed=not fitted.failures,
            why="; ".join(fitted.failures),
            diagnostics=fitted.diagnostics,
            likelihood=likelihood,
            fading=fading if name == "success" else None,
            predictive=predictive_checks(name, learned, catalogue, priors, fitted.draws, seed),
        )
        tell({"event": "fitted", "model": name, "passed": not fitted.failures, "why": list(fitted.failures)})
    gap: dict[str, float] = {}
    success = records["success"]
    if hopeless_both_ways and success.passed and not success.belief_only:
        gap = _hopeless_gap(learned, catalogue, priors, draws["success"], seed, settings, tell)
    manifest = replace(
        _manifest(history, catalogue, priors, seed, records),
        hopeless_gap=gap,
        sampler=settings.told,
        label=label,
        draws=min(found.sizes["draw"] for found in draws.values()),
    )
    whole = Posterior(draws, replace(manifest, current=not failures))
    if not any(record.passed and not record.belief_only for record in records.values()):
        return FitResult(whole, failures)
    instead = {name: believed(MODELS[name]) for name in failures}
    return _without_refused(whole, failures, instead)


def _without_refused(
    fitted: Posterior, failures: dict[str, tuple[str, ...]], instead: dict[str, xr.Dataset]
) -> FitResult:
    """Let draws from the prior (`instead`) stand in for each model that failed, and set its own aside."""
    if not failures:
        return FitResult(fitted, failures)
    records = {
        name: replace(record, belief_only=True, passed=True, refused=True, fading=None, predictive=None)
        if name in failures
        else record
        for name, record in fitted.manifest.models.items()
    }
    draws = {**fitted.draws, **instead}
    fewest = min(found.sizes["draw"] for found in draws.values())
    used = replace(fitted.manifest, models=records, current=True, draws=fewest)
    aside = Posterior({name: fitted.draws[name] for name in failures}, fitted.manifest)
    return FitResult(Posterior(draws, used), failures, aside)


def belief_only(catalogue: Catalogue, priors: PriorSet, seed: int = 1, settings: Any = None) -> FitResult:
    """Draws from the priors alone, for a shop without a record that can be fitted."""
    from triage.inference.sampling import SamplerSettings, belief_draws
    from triage.outcome_models.registry import MODELS

    settings = settings or SamplerSettings()
    draws = {
        name: belief_draws(
            model.build(model.prior_design(catalogue, priors), priors), model.stored, seed, settings
        )
        for name, model in MODELS.items()
    }
    record = ModelRecord(belief_only=True, passed=True, why="there is no record")
    manifest = _manifest(None, catalogue, priors, seed, dict.fromkeys(MODELS, record))
    manifest = replace(manifest, current=True, draws=settings.stored_draws)
    return FitResult(Posterior(draws, manifest), {})


def store_fit(result: FitResult, out: Path) -> StoredFit:
    """Store a fit: as the out folder's posterior if it may be used; what was refused beside it."""
    out = Path(out)
    if not result.current:
        folder, manifest = _keep_aside(result.posterior, out)
        return StoredFit(folder, False, manifest)
    aside = _keep_aside(result.set_aside, out)[0] if result.set_aside else None
    return StoredFit(out, True, save_posterior(result.posterior, out), aside)


def _keep_aside(refused: Posterior, out: Path) -> tuple[Path, Manifest]:
    """Keep draws that are never used in a rejected folder of `out`."""
    waiting = out / "rejected-new.tmp"
    shutil.rmtree(waiting, ignore_errors=True)
    manifest = save_posterior(refused, waiting)
    final = out / manifest.folder.replace("draws-", "rejected-")
    shutil.rmtree(final, ignore_errors=True)
    os.replace(waiting, final)
    return final, manifest


def _manifest(
    history: History | None,
    catalogue: Catalogue,
    priors: PriorSet,
    seed: int,
    records: dict[str, ModelRecord],
) -> Manifest:
    from triage.inference.backend import versions
    from triage.outcome_models.registry import MODELS

    return Manifest(
        seed=seed,
        as_of=history.as_of.isoformat() if history else "",
        first=history.first.isoformat() if history and history.first else "",
        jobs=len(history.jobs) if history else 0,
        rows=len(history.rows) if history else 0,
        data_hash=history.digest if history else "",
        prior_hash=priors.digest,
        catalogue_digest=catalogue.digest,
        structure=structure_digest(catalogue),
        kinds=tuple(catalogue.kinds),
        models=records,
        attempts=counts(history, catalogue),
        methods=method_counts(history, catalogue),
        grades=grade_counts(history),
        job_digests=tuple(sorted(job_digests(history).values())) if history else (),
        forms={name: MODELS[name].form for name in records if name in MODELS},
        versions=versions(),
    )


def counts(history: History | None, catalogue: Catalogue) -> dict[str, tuple[tuple[int, int], ...]]:
    """By kind: (attempts, fixed) at severity 1, 2 and 3."""
    tally = {kind: np.zeros((3, 2), int) for kind in catalogue.kinds}
    if history is not None:
        table = attempts(history, catalogue)
        for kind, severity, fixed in zip(table["kind"], table["severity"], table["fixed"], strict=True):
            tally[kind][severity - 1] += (1, int(fixed))
    return {kind: tuple((int(n), int(k)) for n, k in found) for kind, found in tally.items()}


def method_counts(history: History | None, catalogue: Catalogue) -> dict[str, int]:
    """By repair: attempts recorded under its name."""
    if history is None:
        return {}
    used = attempts(history, catalogue)["method"]
    return {str(slug): int(count) for slug, count in used[used != ""].value_counts(sort=False).items()}


def _fit_one(
    model: Any, design: Any, priors: PriorSet, seed: int, settings: Any, tell: Progress
) -> tuple[Any, LikelihoodChecks | None]:
    """Fit one model; success once more with more quadrature nodes should it need them."""
    from triage.inference.sampling import fit_model
    from triage.inference.success_checks import finer, likelihood_checks

    def named(event: dict[str, Any]) -> None:
        tell({**event, "model": model.name})

    fitted = fit_model(model.build(design, priors), model.stored, seed, settings, named)
    if model.name != "success":
        return fitted, None
    better = finer(design, fitted.draws)
    if better is not None:
        named(
            {
                "event": "retry",
                "why": ["the job effect is larger than expected, so more quadrature nodes are used"],
            }
        )
        design = better
        fitted = fit_model(model.build(design, priors), model.stored, seed, settings, named)
    return fitted, likelihood_checks(design, fitted.draws)


def _hopeless_gap(
    history: History,
    catalogue: Catalogue,
    priors: PriorSet,
    draws: Any,
    seed: int,
    settings: Any,
    tell: Progress,
) -> dict[str, float]:
    """By kind, at severity 2: chance with "looked hopeless" missing less chance with it failed."""
    from triage.inference.sampling import fit_model
    from triage.outcome_models import success
    from triage.prediction.success import fresh_chances

    if not history.has("why_not") or not (history.rows["why_not"] == "looked-hopeless").any():
        return {}
    tell(
        {"event": "model", "model": "success", "purpose": "the same with 'looked hopeless' counted as failed"}
    )
    design = success.design(history, catalogue, priors, hopeless="failed")
    assert design is not None  # what looked hopeless counts as an attempt here
    shorter = replace(settings, draws=max(settings.draws // 2, 250), tune=max(settings.tune // 2, 250))
    other = fit_model(success.build(design, priors), success.STORED, seed, shorter, retry=False).draws
    gap = fresh_chances(draws, 2).mean(axis=0) - fresh_chances(other, 2).mean(axis=0)  # (kind,)
    return {str(kind): round(float(value), 4) for kind, value in zip(draws["kind"].values, gap, strict=True)}
