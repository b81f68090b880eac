"""The forecast that the policy reads for a device: chances, minutes and money as arrays.

This is the seam between statistics and decisions. `triage.prediction` fills
it from posterior draws; the policy reads it and nothing else of the models.

Two axes run through it:

scenario : one posterior draw together with one quadrature node of the job
    effect, with weight `weights` (sums to 1). Given a scenario, repairs
    succeed independently; over all scenarios they are correlated.
path : one simulated job, used for the spread of the margin only.
    `path_scenario` says which scenario it lives in.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

import numpy as np

from triage.policy.problem.shared import SharedCosts, SharedSale

# `related`: what the model takes from like damage and from the assumptions, and all else it knows.
WhyChance = Literal["severity", "tier", "technician", "cause", "method", "related"]


@dataclass(frozen=True)
class RepairForecast:
    """One repair on one unit, for the finding that leads it.

    chance : ndarray, shape (scenario,), success on a first try.
    chance_after : by slug of another repair that failed first on the same
        finding, ndarray, shape (scenario,).
    minutes_fixed, minutes_failed : ndarray, shape (path,), bench minutes.
    parts_ratio : ndarray, shape (path,), parts cost over the price book's figure,
        parts bought a second time included.
    comebacks : ndarray, shape (path,), expected comebacks within the warranty
        that this repair brings when it succeeds.
    attempts, fixed : past attempts at this kind, and how many succeeded.
    prior_only : True when this method's chance comes from the prior alone.
    why : what moves its chance most from the plain rate of those attempts, largest first.
    shared : how minutes, parts and comebacks move with the posterior draw, for all devices alike.
    """

    repair: str
    lead: str
    severity: int
    chance: np.ndarray
    minutes_fixed: np.ndarray
    minutes_failed: np.ndarray
    parts_ratio: np.ndarray
    comebacks: np.ndarray
    chance_after: dict[str, np.ndarray] = field(default_factory=dict)
    attempts: int = 0
    fixed: int = 0
    prior_only: bool = False
    why: tuple[WhyChance, ...] = ()
    shared: SharedCosts = field(default_factory=SharedCosts)

    @cached_property
    def mean_minutes(self) -> tuple[float, float]:
        """Expected bench minutes, when it works and when it does not."""
        return float(self.minutes_fixed.mean()), float(self.minutes_failed.mean())

    @cached_property
    def mean_parts_ratio(self) -> float:
        """Expected parts cost over the price book's figure."""
        return float(self.parts_ratio.mean())

    @cached_property
    def mean_comebacks(self) -> float:
        """Expected comebacks."""
        return float(self.comebacks.mean())


@dataclass(frozen=True)
class UnitForecast:
    """Everything the models say about one unit.

    weights : ndarray, shape (scenario,), sums to 1.
    draw : ndarray of int, shape (scenario,), posterior draw of each scenario.
    path_scenario : ndarray of int, shape (path,).
    repairs : by (finding key, repair slug); a finding key is the kind's slug,
        for a finding, a hidden fault and a symptom's cause alike.
    hidden : by hidden fault's kind, chance that it is there, shape (scenario,).
    causes : by symptom, then by kind: chance of each cause, summing to at most
        1 over kinds; what is missing is "no fault found".
    sale_ratio : by grade 0, 1, 2 (fully working; one function lost; more),
        sale price over working price, ndarray, shape (path,).
    source : the data behind it, in words ("demo posterior", "belief only").
    nodes : so many scenarios in a row are one posterior draw; hidden faults do not depend on the node.
    shared_sale : how the sale price moves with the posterior draw, for all devices alike.
    """

    weights: np.ndarray
    draw: np.ndarray
    path_scenario: np.ndarray
    repairs: dict[tuple[str, str], RepairForecast]
    hidden: dict[str, np.ndarray]
    causes: dict[str, dict[str, float]]
    sale_ratio: tuple[np.ndarray, np.ndarray, np.ndarray]
    source: str = ""
    nodes: int = 1
    shared_sale: SharedSale = field(default_factory=SharedSale)


# 90 % interval of a chance, over what the shop does not know.
INTERVAL = (0.05, 0.95)


def chance_interval(told: RepairForecast | None, forecast: UnitForecast) -> tuple[float, float, float]:
    """Mean chance of a repair and its interval over draws, the job effect integrated out."""
    if told is None:
        return 0.0, 0.0, 0.0
    weights, draw = forecast.weights, forecast.draw
    per_draw = np.bincount(draw, weights * told.chance) / np.bincount(draw, weights)
    low, high = np.quantile(per_draw, INTERVAL)
    return float(weights @ told.chance), float(low), float(high)
