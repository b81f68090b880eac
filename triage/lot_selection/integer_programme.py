"""The solver of integer programmes, kept from speaking into our answers."""

from __future__ import annotations

import ctypes
import os
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, OptimizeResult, milp

# One programme at a time: where standard output goes is one thing for the whole process.
_ALONE = threading.Lock()


def solve(
    goal: np.ndarray,
    rows: LinearConstraint | None,
    whole: np.ndarray,
    bounds: Bounds,
    gap: float,
    seconds: float,
) -> OptimizeResult:
    """Make `goal @ x` least (HiGHS, through `scipy.optimize.milp`).

    Parameters
    ----------
    whole : ndarray, shape (column,), 1 where x must be a whole number.
    gap : relative gap at which the answer counts as the best. seconds : when to give up.
    """
    with _ALONE, _stdout_to_stderr():
        return milp(
            goal,
            constraints=() if rows is None else [rows],
            integrality=whole,
            bounds=bounds,
            options={"mip_rel_gap": gap, "time_limit": max(seconds, 0.1)},
        )


@contextmanager
def _stdout_to_stderr() -> Iterator[None]:
    """Send what C code prints elsewhere: HiGHS leaves stray lines on stdout, where only answers belong."""
    sys.stdout.flush()
    try:
        kept = os.dup(1)
        os.dup2(2, 1)
    except OSError:  # there is no stdout, or no stderr
        yield
        return
    try:
        yield
    finally:
        ctypes.CDLL(None).fflush(None)  # C keeps its own buffer
        os.dup2(kept, 1)
        os.close(kept)
