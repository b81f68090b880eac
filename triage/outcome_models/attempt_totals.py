"""Minutes and money of an attempt, gathered from the rows it covers."""

from __future__ import annotations

import numpy as np
import pandas as pd


def total_over_rows(attempts: pd.DataFrame, values: pd.Series) -> np.ndarray:
    """Sum a column of the history over each attempt's rows, blanks as 0; shape (attempt,).

    Parameters
    ----------
    attempts : as made by `triage.design_matrix.attempts`.
    values : a numeric column of the history's rows.
    """
    row_of = attempts["rows"].explode()
    known = values.reindex(row_of).fillna(0.0).to_numpy(dtype=float)
    return pd.Series(known, index=row_of.index).groupby(level=0).sum().reindex(attempts.index).to_numpy()
