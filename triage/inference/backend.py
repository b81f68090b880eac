"""The one file that knows two generations of PyMC and ArviZ.

Everything else in this package gets plain arrays and xarray Datasets. The
libraries are imported inside the functions: importing them costs seconds.
"""

from __future__ import annotations

import importlib.metadata
import logging
import platform
import time
import warnings
from collections.abc import Callable, Iterable
from typing import Any

import numpy as np
import xarray as xr

from triage.inference.compilation import CompiledModel, compiled, exact_arithmetic

__all__ = ["compiled"]

PACKAGES = ("pymc", "pytensor", "arviz", "nutpie", "numba", "llvmlite", "numpy", "xarray")


def sample(
    model: CompiledModel,
    *,
    draws: int,
    tune: int,
    chains: int,
    cores: int,
    seed: int,
    target_accept: float,
    progress: Callable[[float, int | None], None] | None = None,
) -> tuple[xr.Dataset, xr.Dataset]:
    """Sample a compiled model with nutpie.

    Parameters
    ----------
    model : as `compilation.compiled` returns it.
    seed : the same one gives the same draws on the same machine, with any number of cores, in any
        process, whatever was compiled before. Another processor rounds otherwise (nutpie and NumPy use its
        widest vector unit), and after some hundred steps its chains go other ways: as good, but not the same.
    progress : called every second or so with the seconds sampled so far, and the draws so far of
        all chains, warm-up included (None where the sampler does not tell).

    Returns
    -------
    posterior, statistics : Datasets with dimensions (chain, draw, ...);
        `statistics` has `diverging` and `energy`.
    """
    import nutpie

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        sampler = nutpie.sample(
            model.ready(),
            draws=draws,
            tune=tune,
            chains=chains,
            cores=min(cores, chains),
            seed=seed,
            target_accept=target_accept,
            save_warmup=False,
            progress_bar=False,
            blocking=False,
        )
        tree = _wait(sampler, progress)
    found = _clean(dataset(tree, "posterior"))
    labels = {dim: names for dim, names in model.coords.items() if dim in found.dims}
    return found.assign_coords(labels), dataset(tree, "sample_stats")


def _wait(sampler: Any, progress: Callable[[float, int | None], None] | None) -> Any:
    """Wait for nutpie, telling `progress` how far it is; stop it on an interrupt."""
    start = time.monotonic()
    while True:
        try:
            return sampler.wait(timeout=1.0)
        except TimeoutError:
            if progress is not None:
                progress(time.monotonic() - start, _drawn(sampler))
        except BaseException:
            sampler.cancel()
            raise


def _drawn(sampler: Any) -> int | None:
    """Draws so far of all chains; None where this nutpie keeps them elsewhere.

    Its own `inspect` would turn all of them into a data set every second to tell the same.
    """
    try:
        chains, _ = sampler._sampler.inspect().get_arrow_trace()
        return sum(chain.num_rows for chain in chains)
    except (AttributeError, RuntimeError, ValueError, TypeError):
        return None


def prior_draws(model: Any, *, draws: int, seed: int, names: Iterable[str]) -> xr.Dataset:
    """Draw variables of a model from its prior, dimensions (chain, draw, ...)."""
    import pymc as pm

    # PyMC would name every variable on stderr.
    logging.getLogger("pymc").setLevel(logging.WARNING)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        kept = [name for name in names if name in model.named_vars]
        with model, exact_arithmetic():
            tree = pm.sample_prior_predictive(draws=draws, random_seed=seed, var_names=kept)
    return _clean(dataset(tree, "prior"))


def dataset(tree: Any, group: str) -> xr.Dataset:
    """One group of an InferenceData or DataTree as a Dataset."""
    node = tree[group]
    return node.to_dataset() if hasattr(node, "to_dataset") else node


def rank_normalised_rhat(draws: np.ndarray) -> float:
    """Rank-normalised split R-hat of one number, `draws` of shape (chain, draw)."""
    return float(_arviz().rhat(draws))


def effective_sample(draws: np.ndarray, tail: bool = False) -> float:
    """Bulk (or tail) effective sample size of one number, shape (chain, draw)."""
    if tail:
        # The newer generation has no default for the two tails.
        return float(_arviz().ess(draws, method="tail", prob=(0.05, 0.95)))
    return float(_arviz().ess(draws, method="bulk"))


def effective_for_mean(draws: np.ndarray) -> float:
    """Independent draws that would tell the mean of one number as well, shape (chain, draw)."""
    return float(_arviz().ess(draws, method="mean"))


def smoothed_importance(log_weights: np.ndarray) -> tuple[np.ndarray, float]:
    """Pareto-smooth one set of log weights, shape (draw,): normalised log weights, and k."""
    module = _arviz()
    if hasattr(module, "psislw"):
        smoothed, shape = module.psislw(log_weights)
    else:
        from arviz_stats.base import array_stats

        # The newer generation takes log likelihoods, and weights by their inverse.
        smoothed, shape = array_stats.psislw(-np.asarray(log_weights))
    return np.asarray(smoothed), float(shape)


def example_draws(name: str) -> tuple[xr.Dataset, xr.Dataset]:
    """Posterior and statistics of an example that ships inside ArviZ."""
    tree = _arviz().load_arviz_data(name)
    return dataset(tree, "posterior"), dataset(tree, "sample_stats")


def versions() -> dict[str, str]:
    """Return the versions that a stored fit depends on, and the processor, which rounds in its own way."""
    from llvmlite.binding import get_host_cpu_name

    found = {name: importlib.metadata.version(name) for name in PACKAGES}
    processor = f"{platform.system()} {platform.machine()} {get_host_cpu_name()}"
    return {"python": platform.python_version(), **found, "processor": processor}


def _arviz() -> Any:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import arviz
    return arviz


def _clean(found: xr.Dataset) -> xr.Dataset:
    """Drop the unconstrained twins (`name_log__`) that older nutpie leaves, and what has no level."""
    drop = [name for name, values in found.data_vars.items() if str(name).endswith("__") or not values.size]
    return found.drop_vars(drop)
