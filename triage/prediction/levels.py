"""Finding one level of an effect among stored draws."""

from __future__ import annotations

from zlib import crc32

import numpy as np
import xarray as xr

from triage.arrays import Floats
from triage.errors import PosteriorError, StalePosteriorError


def variable(draws: xr.Dataset, name: str) -> xr.DataArray:
    """Return a variable of stored draws.

    Raises
    ------
    PosteriorError : the draws do not hold it.
    """
    if name not in draws.data_vars:
        raise PosteriorError(f"the stored fit lacks {name}; run the fit again")
    return draws[name]


def stored(draws: xr.Dataset, name: str, *dims: str) -> Floats:
    """Return the draws of a variable, with its dimensions in the order given, else as stored."""
    values = variable(draws, name)
    return values.transpose(*dims).to_numpy() if dims else values.to_numpy()


def required(draws: xr.Dataset, name: str, label: str) -> Floats:
    """Return the draws of one level, shape (draw,), of a variable with dimensions (draw, level).

    Raises
    ------
    StalePosteriorError : the draws know no such level; they belong to another catalogue.
    """
    values = variable(draws, name)
    dim = str(values.dims[1])
    place = np.flatnonzero(values.coords[dim].values == label)
    if not len(place):
        raise StalePosteriorError(
            f"the stored fit of {name} does not know {dim.replace('_', ' ')} {label!r}: "
            "it was made with another catalogue; run the fit again"
        )
    return values.values[:, place[0]]


def known_or_average(draws: xr.Dataset, name: str, label: str) -> Floats:
    """Return the draws of one level of a zero-mean effect; 0, its average, where it is unheard of."""
    if name not in draws or label not in draws[name].coords[draws[name].dims[1]].values:
        return np.zeros(draws.sizes["draw"])
    return required(draws, name, label)


def new_level(draws: xr.Dataset, name: str, label: str) -> Floats:
    """Draw the effect of a level of a zero-sum factor that the fit has never met, shape (draw,).

    One more level strays from the mean of the K known ones by `N(0, sd^2 (1 + 1/K))`.
    The same label gets the same draws. 0 where the factor has no effect.
    """
    if f"{name}_effect" not in draws or f"{name}_sd" not in draws:
        return np.zeros(draws.sizes["draw"])
    spread = stored(draws, f"{name}_sd") * np.sqrt(1 + 1 / draws.sizes[name])
    effect: Floats = spread * _luck(draws, name, label)
    return effect


def drift_ahead(draws: xr.Dataset, quarters: Floats) -> Floats:
    """Draw how far the shop drifts in so many quarters after its record, shape (draw, row)."""
    at_one = stored(draws, "drift_sd") * _luck(draws, "period", "ahead")
    drift: Floats = at_one[:, None] * np.sqrt(quarters)
    return drift


def _luck(draws: xr.Dataset, name: str, label: str) -> Floats:
    """Standard normal numbers that belong to a name and label, shape (draw,)."""
    rng = np.random.default_rng([crc32(name.encode()), crc32(label.encode())])
    return rng.standard_normal(draws.sizes["draw"])
