"""Spiegelhalter's test of calibration: whether chances are over- or under-confident.

`z = sum (y - p)(1 - 2p) / sqrt(sum (1 - 2p)^2 p (1 - p))`. When every chance
is that of its own outcome given all before it, z is near a standard normal,
whatever the dependence. A block of forecasts shares one fit, whose parameters
are not known exactly: its outcomes are correlated over jobs, so z has a larger variance.
Its reference then is z of outcomes replicated from the fit itself.

References
----------
Spiegelhalter 1986, Probabilistic prediction in patient management and clinical
trials, Statistics in Medicine 5:421; Rufibach 2010, Use of Brier score to assess
binary predictions, J. Clin. Epidemiol. 63:938 (the formula); Seillier-Moiseiwitsch
and Dawid 1993, On testing the validity of sequential probability forecasts,
JASA 88:355 (forecasts given what came before).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from triage.posterior.interval import interval


@dataclass(frozen=True)
class CalibrationTest:
    """Spiegelhalter's z and how unusual it is.

    z : above 0 where the score is worse than its expectation: over-confident.
    p_normal : two-sided, against a standard normal.
    p_replicated : two-sided, share of replicates at least as far from their
        middle; None without replicates.
    reference : 90 % of replicates lie between these; None without.
    """

    z: float
    p_normal: float
    p_replicated: float | None = None
    reference: tuple[float, float] | None = None


def z_terms(chance: np.ndarray, happened: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Numerator and variance of z, summed over the last axis.

    Parameters
    ----------
    chance, happened : ndarray, shape (..., forecast); a forecast that was not
        made is NaN and counts nothing.
    """
    chance, happened = np.asarray(chance, float), np.asarray(happened, float)
    away = 1 - 2 * chance
    top = np.nansum((happened - chance) * away, axis=-1)
    return top, np.nansum(away**2 * chance * (1 - chance), axis=-1)


def calibration_test(
    chance: np.ndarray,
    happened: np.ndarray,
    replicated: tuple[np.ndarray, np.ndarray] | None = None,
) -> CalibrationTest:
    """Test forecasts for calibration.

    Parameters
    ----------
    chance, happened : ndarray, shape (forecast,).
    replicated : `z_terms` of the same forecasts for replicated outcomes, each
        shape (replicate,).
    """
    z = _ratio(*z_terms(chance, happened))
    normal = float(2 * ndtr(-abs(z)))
    if replicated is None:
        return CalibrationTest(float(z), normal)
    again = _ratio(*replicated)
    middle = np.median(again)
    beyond = (np.abs(again - middle) >= abs(z - middle)).sum()
    low, high = interval(again)
    # One more of both: the record itself is one of the possible outcomes.
    return CalibrationTest(
        float(z), normal, float((beyond + 1) / (len(again) + 1)), (float(low), float(high))
    )


def _ratio(top: np.ndarray, variance: np.ndarray) -> np.ndarray:
    """Z, and 0 where every forecast is one half or certain and nothing can be tested."""
    return np.divide(top, np.sqrt(variance), out=np.zeros_like(np.asarray(top, float)), where=variance > 0)
