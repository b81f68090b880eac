"""A figure of a record, and the same figure in every record replicated from a fit."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
import xarray as xr

Key = TypeVar("Key", str, int)


@dataclass(frozen=True)
class Replicated:
    """One test quantity.

    quantity : in words, as "repairs fixed, severity 3".
    unit : "count" (of `total`), "minutes" or "ratio".
    observed : in the record. replicated : ndarray, shape (draw,), one a replicated record.
    """

    quantity: str
    unit: str
    observed: float
    replicated: np.ndarray
    total: float = 0.0


def counted(
    quantity: str, held: np.ndarray, replicated: np.ndarray, weight: np.ndarray | None = None
) -> Replicated:
    """Count where something holds.

    Parameters
    ----------
    held : ndarray of bool, shape (thing,), in the record.
    replicated : ndarray of bool, shape (draw, thing).
    weight : ndarray, shape (thing,), what each thing counts; 1 where None.
    """
    weight = np.ones(len(held)) if weight is None else weight
    return Replicated(quantity, "count", float(held @ weight), replicated @ weight, float(weight.sum()))


def measured(quantity: str, unit: str, figure, values: np.ndarray, replicated: np.ndarray) -> Replicated:
    """Measure by a function along the last axis, such as `np.mean`; shapes (thing,) and (draw, thing)."""
    return Replicated(quantity, unit, float(figure(values, axis=-1)), figure(replicated, axis=-1))


def effect_at(draws: xr.Dataset, name: str, place: np.ndarray) -> np.ndarray:
    """Draws of the levels at these places, shape (draw, place); 0 at -1, or without that effect."""
    if name not in draws:
        return np.zeros((draws.sizes["draw"], len(place)))
    effect = draws[name].transpose("draw", ...).to_numpy()  # (draw, level)
    return np.where(place >= 0, effect[:, place], 0.0)


def groups(labels: Iterable[Key], names: dict[Key, str], least: int) -> list[tuple[str, np.ndarray]]:
    """Name and members (ndarray of bool) of every group with at least so many; in the order of `names`."""
    held = np.asarray(list(labels), dtype=object)
    found = ((name, held == slug) for slug, name in names.items())
    return [(name, members) for name, members in found if members.sum() >= least]
