"""Prices replicated from a fit: parts over the price book, sales over the working price."""

from __future__ import annotations

import numpy as np
import xarray as xr

from triage.domain.catalogue import Catalogue
from triage.domain.history import History
from triage.inference.replicated import Replicated, counted, effect_at, measured
from triage.outcome_models.parts_cost import TWICE, purchases
from triage.outcome_models.sale_price import sales
from triage.priors.prior_set import PriorSet


def parts_paid(
    history: History, catalogue: Catalogue, priors: PriorSet, draws: xr.Dataset, rng: np.random.Generator
) -> list[Replicated]:
    """Mean and spread of what parts cost over the price book, and how many cost over twice of it."""
    table = purchases(history, catalogue)
    family = _places(draws["log_ratio"].coords["family"].values, table["family"])
    ratio = np.exp(table["ratio"].to_numpy(float))
    spread = effect_at(draws, "spread", family)
    again = rng.random(spread.shape) < draws["bought_again"].to_numpy()[:, None]
    replicated = _ratios(effect_at(draws, "log_ratio", family) + TWICE * again, spread, rng)
    return [
        measured("mean parts cost over the price book", "ratio", np.mean, ratio, replicated),
        measured("spread of parts cost over the price book", "ratio", np.std, ratio, replicated),
        counted("parts at over twice the price book", ratio > 2, replicated > 2),
        counted("parts at under half the price book", ratio < 0.5, replicated < 0.5),
    ]


def prices_fetched(
    history: History, catalogue: Catalogue, priors: PriorSet, draws: xr.Dataset, rng: np.random.Generator
) -> list[Replicated]:
    """Mean by grade, spread, and lowest tenth of what units sold for over their working price."""
    table = sales(history, catalogue)
    grade = table["grade"].to_numpy(int)
    tiers = draws.coords["tier"].values if "tier" in draws.coords else ()
    tier = _places(tiers, table["tier"])
    first, second = draws["first_drop"].to_numpy(), draws["second_drop"].to_numpy()
    drop = np.column_stack([np.zeros_like(first), first, first + second])[:, grade]  # (draw, sale)
    steeper = np.exp(effect_at(draws, "tier_drop", tier))
    middle = draws["level"].to_numpy()[:, None] + effect_at(draws, "tier_effect", tier) - drop * steeper
    spread = draws["spread"].to_numpy()[:, None]
    ratio, replicated = np.exp(table["ratio"].to_numpy(float)), _ratios(middle, spread, rng)

    def lowest(values: np.ndarray, axis: int) -> np.ndarray:
        return np.quantile(values, 0.1, axis=axis)

    whole = grade == 0
    named = (("all repaired", whole), ("something left open", ~whole))
    means = [
        measured(f"mean sale over working price, {name}", "ratio", np.mean, ratio[held], replicated[:, held])
        for name, held in named
        if held.any()
    ]
    return [
        *means,
        measured("spread of sale over working price", "ratio", np.std, ratio, replicated),
        measured("sale over working price, lowest tenth", "ratio", lowest, ratio, replicated),
    ]


def _ratios(middle: np.ndarray, spread: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Log-normal ratios about their middles, shape (draw, thing)."""
    return np.exp(middle + spread * rng.standard_normal(middle.shape))


def _places(levels, labels) -> np.ndarray:
    """Place of each label among the levels; -1 for one that is not there."""
    place = {str(level): index for index, level in enumerate(levels)}
    return np.array([place.get(str(label), -1) for label in labels], dtype=int)
