"""Forecasts of repairs whose severity is known from the intake only: averaged over that of the bench."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

import numpy as np
import pandas as pd

from triage.arrays import Floats
from triage.domain.history import History

ByGrade: TypeAlias = dict[int, Floats]


class Shares(dict[int, float]):
    """Chance of each severity on the bench, those that cannot be left out; it can be a key."""

    def __hash__(self) -> int:  # type: ignore[override]
        """Hash of the chances."""
        return hash(tuple(self.items()))


def on_the_bench(by_intake: Floats) -> dict[int, Shares]:
    """By severity at intake, what it may be on the bench; `by_intake` as `IntakeGradePriors.shares`."""
    return {
        grade: Shares({one: float(share) for one, share in enumerate(row, 1) if share > 0})
        for grade, row in enumerate(by_intake, 1)
    }


def fails(chances: ByGrade) -> ByGrade:
    """Chance that it does not work."""
    return {grade: 1 - chance for grade, chance in chances.items()}


def averaged(chances: ByGrade, shares: Shares, given: ByGrade | None = None) -> Floats:
    """Chance averaged over severities, shape (scenario,).

    Parameters
    ----------
    given : chance of what is known to have happened, which tells of the severity: another
        method that failed says that the damage is likelier to be a bad one.
    """
    if len(chances) == 1:
        return next(iter(chances.values()))
    weight = {grade: share * (1.0 if given is None else given[grade]) for grade, share in shares.items()}
    total: Floats = np.sum([weight[grade] * chances[grade] for grade in chances], axis=0)
    return total / sum(weight.values())


def minutes_drawn(minutes: Sequence[Floats], shares: Shares, given: ByGrade, luck: Floats) -> Floats:
    """One severity a path, drawn given what happened there, and its minutes; shape (path,).

    Parameters
    ----------
    minutes : by severity, in the order of `shares`. luck : a uniform number a path.
    """
    edges = np.cumsum([share * given[grade] for grade, share in shares.items()], axis=0)  # (grade, path)
    drawn = np.minimum((luck * edges[-1] >= edges).sum(axis=0), len(edges) - 1)
    told: Floats = np.choose(drawn, list(minutes))
    return told


def bench_shares(table: pd.DataFrame, history: History, by_intake: Floats) -> Floats:
    """Chance of each severity on the bench, shape (attempt, 3).

    Parameters
    ----------
    table : attempts of the history, with `row`, and `severity` as known when they are forecast.
    by_intake : as made by `IntakeGradePriors.shares`.
    """
    severity = table["severity"].to_numpy(int) - 1
    if "known_at" not in history.rows:
        every: Floats = by_intake[severity]
        return every
    guessed = history.rows["known_at"].reindex(table["row"]).isin(["intake", ""]).to_numpy()
    shares: Floats = np.where(guessed[:, None], by_intake[severity], np.eye(3)[severity])
    return shares
