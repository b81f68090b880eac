"""How much a posterior moves when one component of it is made a little stronger or weaker.

A component (a prior, or a likelihood) is raised to a power near 1 and the draws
in hand are reweighted, so nothing is fitted again. What moves is read from the
cumulative distribution of one number.

References
----------
Kallioinen, Paananen, Buerkner and Vehtari 2023, Detecting and diagnosing prior
and likelihood sensitivity with power-scaling, Statistics and Computing 34:57
(the measure and its threshold); Vehtari, Simpson, Gelman, Yao and Gabry 2024,
Pareto smoothed importance sampling, JMLR 25:72; Zhang and Stephens 2009,
Technometrics 51:316 (the fit of the tail); Nguyen and Vreeken 2015 (the
cumulative Jensen-Shannon distance).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import logsumexp, xlogy

# Kallioinen et al. 2023: from here on a number counts as sensitive.
THRESHOLD = 0.05
# About the shift of a normal's mean a doubling, in its sds, that makes as much by itself
# (the distance is relative to the range of the draws, so it depends a little on how many).
THRESHOLD_SHIFT = 0.25
DELTA = 0.01
# Vehtari et al. 2024: above it the reweighted draws cannot be relied on.
MOST_PARETO_K = 0.7


@dataclass(frozen=True)
class Sensitivity:
    """Sensitivity of one number to one component.

    value : change of the distribution a doubling of the component, as a
        cumulative Jensen-Shannon distance.
    shift : change of its mean a doubling, in its own unit; shift_sd : in its sds.
    pareto_k : the larger tail shape of the two sets of weights.
    """

    value: float
    shift: float
    shift_sd: float
    pareto_k: float

    @property
    def sensitive(self) -> bool:
        """Whether the number counts as moved by the component."""
        return self.value >= THRESHOLD


def power_scaling_sensitivity(
    values: np.ndarray, log_component: np.ndarray, delta: float = DELTA
) -> Sensitivity:
    """Sensitivity of a number to a component, from draws.

    Parameters
    ----------
    values : ndarray, shape (draw,), the number.
    log_component : ndarray, shape (draw,), log density of the component at each
        draw, up to a constant.
    """
    distances, shapes = [], []
    for power in (1 / (1 + delta), 1 + delta):
        log_weights, shape = smoothed_weights((power - 1) * np.asarray(log_component, float))
        weights = np.exp(log_weights)
        distances.append(max(cumulative_distance(v, weights) for v in (values, -np.asarray(values))))
        shapes.append(shape)
    # The slope of a weighted mean in the power is a covariance.
    shift = float(np.log(2) * np.cov(values, log_component)[0, 1])
    value, sd = float(sum(distances) / (2 * np.log2(1 + delta))), float(np.std(values, ddof=1))
    return Sensitivity(value, shift, shift / sd if sd else 0.0, float(max(shapes)))


def smoothed_weights(log_ratios: np.ndarray) -> tuple[np.ndarray, float]:
    """Normalised log weights of draws, their largest replaced by quantiles of a fitted Pareto tail.

    Parameters
    ----------
    log_ratios : ndarray, shape (draw,), log importance ratios, up to a constant.

    Returns
    -------
    ndarray, shape (draw,), and the tail's shape: -inf where all ratios are equal,
    inf where the tail is too short to be fitted.
    """
    logs = log_ratios - np.max(log_ratios)
    if np.ptp(logs) < 1e-12:
        return np.full(logs.shape, -np.log(logs.size)), -np.inf
    order = np.argsort(logs)
    length = int(np.ceil(min(logs.size / 5, 3 * np.sqrt(logs.size))))
    cutoff = max(logs[order[-length - 1]], np.log(np.finfo(float).tiny))
    tail = order[logs[order] > cutoff]
    shape = np.inf
    if tail.size > 4:
        shape, scale = _pareto(np.exp(logs[tail]) - np.exp(cutoff))
        if np.isfinite(shape):
            at = (np.arange(tail.size) + 0.5) / tail.size
            drawn = -np.log1p(-at) if abs(shape) < 1e-12 else np.expm1(-shape * np.log1p(-at)) / shape
            logs[tail] = np.minimum(np.log(scale * drawn + np.exp(cutoff)), 0.0)
    return logs - logsumexp(logs), float(shape)


def _pareto(excess: np.ndarray) -> tuple[float, float]:
    """Shape and scale of a generalised Pareto distribution, from sorted excesses over its start."""
    count = excess.size
    tried = 30 + int(np.sqrt(count))
    rate = 1 - np.sqrt(tried / (np.arange(1, tried + 1) - 0.5))
    rate = rate / (3 * excess[int(count / 4 + 0.5) - 1]) + 1 / excess[-1]
    shape = np.log1p(-rate[:, None] * excess).mean(axis=1)  # (tried,)
    profile = count * (np.log(-rate / shape) - shape - 1)
    weight = np.exp(profile - logsumexp(profile))
    best = float(rate @ weight)
    shape = float(np.log1p(-best * excess).mean())
    # Drawn towards one half with the weight of ten observations.
    return (count * shape + 5) / (count + 10), -shape / best


def cumulative_distance(values: np.ndarray, weights: np.ndarray) -> float:
    """Cumulative Jensen-Shannon distance between draws as they are and as weighted, from 0 to 1.

    Parameters
    ----------
    values, weights : ndarray, shape (draw,).
    """
    order = np.argsort(values)
    width = np.diff(np.asarray(values)[order])
    plain = np.arange(1, order.size) / order.size
    weighted = np.cumsum(weights[order])[:-1] / np.sum(weights)
    both = np.log2((plain + weighted) / 2)
    areas = plain @ width, weighted @ width
    if sum(areas) == 0:
        return 0.0
    divergences = [
        width @ (xlogy(own, own) / np.log(2) - own * both) + (other_area - own_area) / (2 * np.log(2))
        for own, own_area, other_area in ((plain, *areas), (weighted, *areas[::-1]))
    ]
    return float(np.sqrt(sum(max(d, 0.0) for d in divergences) / sum(areas)))
