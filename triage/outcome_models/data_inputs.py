"""What a record says, as inputs of a model's graph.

An array written into a graph as a constant is compiled into the code, so that
another record would be compiled anew. As an input it is only read: one
compilation then serves every record of the same structure.
"""

from __future__ import annotations

from typing import Any

import numpy as np


def of_rows(name: str, values: np.ndarray) -> Any:
    """Make an array whose first dimension differs from record to record an input of the model being built."""
    return _data(name, values, (None, *np.shape(values)[1:]))


def of_levels(name: str, values: np.ndarray) -> Any:
    """Make an array that has an entry for each level an input of the model being built."""
    return _data(name, values, np.shape(values))


def _data(name: str, values: np.ndarray, shape: tuple[int | None, ...]) -> Any:
    import pymc as pm

    kind = np.float64 if np.asarray(values).dtype.kind == "f" else np.int64
    return pm.Data(f"data_{name}", np.ascontiguousarray(values, dtype=kind), shape=shape)
