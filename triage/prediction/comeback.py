"""Comebacks to expect of what is fixed on a unit."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import xarray as xr

from triage.arrays import Floats
from triage.prediction.levels import required, stored
from triage.priors.comeback import exposure_by_piece


def expected_comebacks(draws: xr.Dataset, families: Iterable[str], warranty_days: float) -> Floats:
    """Return the hazard summed over a warranty, shape (draw,), in comebacks.

    Parameters
    ----------
    draws : of the comeback model.
    families : of every finding fixed, one entry each.
    warranty_days : how long the unit is watched.
    """
    later = stored(draws, "later")  # (draw, later piece)
    pieces = np.exp(np.column_stack([np.zeros(len(later)), later]))  # (draw, piece)
    months = pieces @ exposure_by_piece(np.asarray(warranty_days))  # (draw,)
    rates = [np.exp(required(draws, "log_rate", family)) for family in families]
    return months * np.sum(rates, axis=0) if rates else np.zeros(len(later))


def chance_of_comeback(draws: xr.Dataset, families: Iterable[str], warranty_days: float) -> Floats:
    """Return the chance that a unit comes back at all within a warranty, shape (draw,)."""
    return -np.expm1(-expected_comebacks(draws, families, warranty_days))
