"""Draws of a model's stored variables together with a quantity of its graph, for parity tests."""

from __future__ import annotations

import numpy as np
import xarray as xr


def joint_draws(graph, stored, quantity, draws=25, seed=5):
    """Draw stored variables and one more quantity from the same points of the prior.

    Returns
    -------
    Dataset with dimensions (draw, ...), and the quantity, shape (draw, ...).
    """
    import pymc as pm  # imported here because it takes seconds in every worker that collects tests

    names = [name for name in stored if name in graph.named_vars]
    *values, last = pm.draw([*(graph[name] for name in names), quantity], draws=draws, random_seed=seed)
    found = {}
    for name, array in zip(names, values, strict=True):
        dims = graph.named_vars_to_dims.get(name, ())
        coords = {dim: list(graph.coords[dim]) for dim in dims}
        found[name] = xr.DataArray(array, dims=("draw", *dims), coords=coords)
    return xr.Dataset(found), np.asarray(last)
