"""Ranks of truths among posterior draws, and whether they are uniform.

References
----------
Talts, Betancourt, Simpson, Vehtari and Gelman 2018, Validating Bayesian
inference algorithms with simulation-based calibration, arXiv:1804.06788 (the
ranks); Säilynoja, Bürkner and Vehtari 2022, Graphical test for discrete
uniformity and its applications in goodness-of-fit evaluation and multiple
sample comparison, Statistics and Computing 32:32 (the simultaneous band).
Both from memory.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from scipy.stats import binom, chisquare

# Draws a truth is ranked among: 100 ranks, 0 to 99.
DRAWS = 99
NULL_RUNS = 20_000
BINS = 20


def rank(truth: float, draws: np.ndarray) -> int:
    """How many of `DRAWS` nearly independent draws lie below the truth."""
    return int((np.asarray(draws) < truth).sum())


def band_p(ranks: np.ndarray) -> float:
    """Chance that uniform ranks deviate as far, at any cut point, from their expected cumulative counts.

    The least two-sided binomial tail over all cut points is compared with its
    own distribution under uniform ranks, simulated with a fixed seed. Below
    `a`, the cumulative counts leave the simultaneous band of level `1 - a`.
    """
    ranks = np.asarray(ranks)
    null = _null(len(ranks))
    seen = _least_tail(np.bincount(ranks, minlength=DRAWS + 1)[None], len(ranks))[0]
    return float((1 + (null <= seen * (1 + 1e-12)).sum()) / (1 + NULL_RUNS))


def chi_square_p(ranks: np.ndarray) -> float:
    """The usual test of equal counts, in `BINS` bins."""
    counts = np.bincount(np.asarray(ranks) * BINS // (DRAWS + 1), minlength=BINS)
    return float(chisquare(counts).pvalue)


def with_failures(ranks: np.ndarray, failed: int) -> np.ndarray:
    """Ranks with the failed fits at the two ends in turn, the farthest from uniform."""
    return np.concatenate([ranks, np.where(np.arange(failed) % 2, DRAWS, 0)]).astype(int)


@lru_cache(maxsize=8)
def _null(shops: int) -> np.ndarray:
    rng = np.random.default_rng(20221)
    counts = rng.multinomial(shops, np.full(DRAWS + 1, 1 / (DRAWS + 1)), NULL_RUNS)
    return _least_tail(counts, shops)


def _least_tail(counts: np.ndarray, shops: int) -> np.ndarray:
    """Least two-sided tail over the cut points, `counts` of shape (run, rank)."""
    below = np.cumsum(counts, axis=1)[:, :-1]  # (run, cut)
    return _tails(shops)[np.arange(DRAWS), below].min(axis=1)


@lru_cache(maxsize=8)
def _tails(shops: int) -> np.ndarray:
    """Two-sided tail of each cumulative count at each cut, shape (cut, count)."""
    cut = (np.arange(DRAWS) + 1)[:, None] / (DRAWS + 1)
    count = np.arange(shops + 1)
    return 2 * np.minimum(binom.cdf(count, shops, cut), binom.sf(count - 1, shops, cut))
