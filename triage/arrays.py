"""What arrays hold, for annotations; docstrings give their shapes and units."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]


def any_in_row(marks: Bools) -> Bools:
    """Whether any mark of each row is set, shape (row,) from (row, column)."""
    found: Bools = np.any(marks, axis=1)
    return found
