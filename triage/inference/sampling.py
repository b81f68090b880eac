"""Fit one PyMC model: sample, diagnose, try once more if need be, keep what is stored."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np
import xarray as xr

from triage.inference import backend
from triage.inference.diagnostics import diagnose, failures
from triage.posterior.manifest import Diagnostics

Progress = Callable[[dict[str, Any]], None]


@dataclass(frozen=True)
class SamplerSettings:
    """How long and how carefully to sample.

    target_accept : of the first try; `retry_accept` of the second, which is
        also half as long again.
    stored_draws : draws kept, thinned evenly over all chains.
    """

    draws: int = 1000
    tune: int = 800
    chains: int = 4
    cores: int = 0
    target_accept: float = 0.9
    retry_accept: float = 0.98
    stored_draws: int = 2000

    @property
    def workers(self) -> int:
        """Processor cores to use; all of them when `cores` is 0."""
        return self.cores or os.cpu_count() or 1

    @property
    def told(self) -> dict[str, float]:
        """What the draws follow from, by name: all but the cores, which change only the time."""
        return {name: value for name, value in asdict(self).items() if name != "cores"}


@dataclass(frozen=True)
class ModelFit:
    """One model's draws, dimensions (draw, ...), and how they were got."""

    draws: xr.Dataset
    diagnostics: Diagnostics
    failures: tuple[str, ...]


def fit_model(
    model: Any,
    stored: Iterable[str],
    seed: int,
    settings: SamplerSettings,
    progress: Progress | None = None,
    retry: bool = True,
) -> ModelFit:
    """Sample a model; one that fails the gate is tried once more at a higher `target_accept`.

    Parameters
    ----------
    model : pymc.Model.
    stored : names of the variables to keep; those the model lacks are passed over.
    progress : told what is happening, as small dictionaries.
    retry : False for a fit that is only looked at, never used.
    """
    tell = progress or (lambda event: None)
    start = time.monotonic()
    compiled = backend.compiled(model)
    result = _try(compiled, seed, settings, tell)
    if result.failures and retry:
        tell({"event": "retry", "why": list(result.failures)})
        more = replace(
            settings,
            target_accept=settings.retry_accept,
            draws=settings.draws * 3 // 2,
            tune=settings.tune * 3 // 2,
        )
        again = _try(compiled, seed + 1, more, tell)
        result = replace(again, diagnostics=replace(again.diagnostics, retried=True))
    kept = [name for name in stored if name in result.draws]
    return replace(
        result,
        draws=thinned(result.draws[kept], settings.stored_draws),
        diagnostics=replace(result.diagnostics, seconds=round(time.monotonic() - start, 1)),
    )


def _try(compiled: Any, seed: int, settings: SamplerSettings, tell: Progress) -> ModelFit:
    wanted = settings.chains * (settings.draws + settings.tune)
    draws, statistics = backend.sample(
        compiled,
        draws=settings.draws,
        tune=settings.tune,
        chains=settings.chains,
        cores=settings.workers,
        seed=seed,
        target_accept=settings.target_accept,
        progress=lambda seconds, drawn: tell(
            {"event": "sampling", "seconds": round(seconds), "drawn": drawn, "of": wanted}
        ),
    )
    found = replace(diagnose(draws, statistics), target_accept=settings.target_accept)
    return ModelFit(draws, found, tuple(failures(found)))


def thinned(draws: xr.Dataset, most: int) -> xr.Dataset:
    """Put all chains in one row of draws and keep at most `most`, evenly spaced."""
    flat = draws.stack(sample=("chain", "draw")).reset_index("sample", drop=True)
    flat = flat.rename(sample="draw").drop_vars("chain", errors="ignore")
    size = flat.sizes["draw"]
    if size > most:
        flat = flat.isel(draw=np.linspace(0, size - 1, most).round().astype(int))
    return flat.transpose("draw", ...).astype("float64")


def belief_draws(model: Any, stored: Iterable[str], seed: int, settings: SamplerSettings) -> xr.Dataset:
    """Draw what is stored from a model's prior, dimensions (draw, ...)."""
    found = backend.prior_draws(model, draws=settings.stored_draws, seed=seed, names=stored)
    return thinned(found, settings.stored_draws)
