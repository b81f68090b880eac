"""Fits of a back-test: each model alone, on what was known, and what stands in for one that fails."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import xarray as xr

from triage.domain.catalogue import Catalogue
from triage.domain.history import History
from triage.priors.prior_set import PriorSet

Progress = Callable[[dict[str, Any]], None]


@dataclass(frozen=True)
class BlockFit:
    """Draws of one model as they are stored, and why they may not be used, if so."""

    draws: xr.Dataset
    failures: tuple[str, ...] = ()


# What is known, catalogue, assumptions, seed, sampler, progress -> a fit.
Fit = Callable[[History, Catalogue, PriorSet, int, Any, Progress], BlockFit]
# The same for a named model; None where the record does not hold what it needs.
NamedFit = Callable[[str, History, Catalogue, PriorSet, int, Any, Progress], BlockFit | None]


def fit_success(
    past: History, catalogue: Catalogue, priors: PriorSet, seed: int, sampler: Any, tell: Progress
) -> BlockFit:
    """Fit the success model alone."""
    from triage.inference.sampling import SamplerSettings, fit_model
    from triage.outcome_models import success

    design = success.design(past, catalogue, priors)
    assert design is not None  # a back-test refuses a past without an attempt
    model = success.build(design, priors)
    fitted = fit_model(model, success.STORED, seed, sampler or SamplerSettings(), tell)
    return BlockFit(fitted.draws, fitted.failures)


def fit_named(
    name: str, past: History, catalogue: Catalogue, priors: PriorSet, seed: int, sampler: Any, tell: Progress
) -> BlockFit | None:
    """Fit another of the registered models alone."""
    from triage.inference.sampling import SamplerSettings, fit_model
    from triage.outcome_models.registry import MODELS

    model = MODELS[name]
    design = model.design(past, catalogue, priors)
    if design is None:
        return None
    built = model.build(design, priors)
    fitted = fit_model(built, model.stored, seed, sampler or SamplerSettings(), tell)
    return BlockFit(fitted.draws, fitted.failures)


def believed(name: str, catalogue: Catalogue, priors: PriorSet, seed: int, sampler: Any) -> xr.Dataset:
    """Draws of a model from assumptions alone."""
    from triage.inference.sampling import SamplerSettings, belief_draws
    from triage.outcome_models.registry import MODELS

    model = MODELS[name]
    built = model.build(model.prior_design(catalogue, priors), priors)
    return belief_draws(built, model.stored, seed, sampler or SamplerSettings())


class PassedFits:
    """The newest fit of each model that passed its gate: it goes on where a later one fails."""

    def __init__(self, catalogue: Catalogue, priors: PriorSet, sampler: Any, tell: Progress):
        self._books, self._sampler, self._tell = (catalogue, priors), sampler, tell
        self._passed: dict[str, BlockFit] = {}

    def use(self, name: str, made: BlockFit | None, seed: int) -> tuple[xr.Dataset, str]:
        """Draws to forecast with, and what they are: "fit", "the fit before" or "belief only"."""
        if made is not None and not made.failures:
            self._passed[name] = made
            return made.draws, "fit"
        used = "the fit before" if name in self._passed else "belief only"
        if made is not None:
            self._tell({"event": "failed", "model": name, "why": list(made.failures), "used": used})
        if name in self._passed:
            return self._passed[name].draws, used
        return believed(name, *self._books, seed, self._sampler), used
