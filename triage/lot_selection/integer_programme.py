"""The solver of integer programmes: HiGHS, by its own Python interface, which can be kept from printing.

`scipy.optimize.milp` carries a HiGHS that prints a line on some programmes whatever it is told.
"""

from __future__ import annotations

from dataclasses import dataclass

import highspy
import numpy as np
from scipy.optimize import Bounds, LinearConstraint
from scipy.sparse import csc_array


@dataclass(frozen=True)
class Solved:
    """What came of a programme.

    x : ndarray, shape (column,), the best that was found; None where time ran out before any was.
    bound : no x that is allowed has a lower `goal @ x`; -inf where nothing is known.
    """

    x: np.ndarray | None
    bound: float


class _Silent(highspy.Highs):
    """HiGHS that prints nothing: its own way of saying so comes after it printed who it is."""

    def enableCallbacks(self) -> None:
        self.silent()
        super().enableCallbacks()


def solve(
    goal: np.ndarray,
    rows: LinearConstraint | None,
    whole: np.ndarray,
    bounds: Bounds,
    gap: float,
    seconds: float,
) -> Solved:
    """Make `goal @ x` least.

    Parameters
    ----------
    whole : ndarray, shape (column,), 1 where x must be a whole number.
    gap : relative gap at which the answer counts as the best. seconds : when to give up.
    """
    kinds = (highspy.HighsVarType.kContinuous, highspy.HighsVarType.kInteger)
    programme = highspy.HighsLp()
    programme.num_col_ = len(goal)
    programme.col_cost_ = goal
    programme.col_lower_, programme.col_upper_ = np.broadcast_arrays(bounds.lb, bounds.ub, goal)[:2]
    programme.integrality_ = [kinds[int(integer)] for integer in whole]
    if rows is not None:
        matrix = csc_array(rows.A)
        programme.num_row_ = count = matrix.shape[0]
        programme.row_lower_ = np.broadcast_to(rows.lb, count)
        programme.row_upper_ = np.broadcast_to(rows.ub, count)
        programme.a_matrix_.format_ = highspy.MatrixFormat.kColwise
        programme.a_matrix_.start_, programme.a_matrix_.index_ = matrix.indptr, matrix.indices
        programme.a_matrix_.value_ = matrix.data
    solver = _Silent()
    solver.setOptionValue("mip_rel_gap", gap)
    solver.setOptionValue("time_limit", max(seconds, 0.1))
    solver.passModel(programme)
    solver.run()
    found = solver.getInfo()
    feasible = found.primal_solution_status == int(highspy.SolutionStatus.kSolutionStatusFeasible)
    x = np.array(solver.getSolution().col_value) if feasible else None
    return Solved(x, found.mip_dual_bound if np.isfinite(found.mip_dual_bound) else -np.inf)
