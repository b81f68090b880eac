"""Stretches of a record's time, counted back from its last day: the steps of the shop's drift.

Four quarters, four half-years, then years: the further back, the wider, so
that a long record has few of them. A period is named by its last day.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import pandas as pd

from triage.arrays import Floats, Ints

Days = np.ndarray[tuple[int], np.dtype[np.datetime64]]
QUARTER_DAYS = 365.25 / 4
# Widths in quarters, the newest first; years go on without end.
_WIDTHS = (1, 1, 1, 1, 2, 2, 2, 2)
_YEAR = 4


def period_ends(dates: Sequence[pd.Timestamp]) -> tuple[str, ...]:
    """Last day of each period that the dates need, oldest first (ISO date); none for no dates."""
    if not len(dates):
        return ()
    first, last = min(dates), max(dates)
    ends, back = [], 0
    while last - _days(back) >= first:
        ends.append((last - _days(back)).date().isoformat())
        back += _width(len(ends) - 1)
    return tuple(reversed(ends))


def period_of(dates: Sequence[pd.Timestamp], ends: Sequence[str]) -> Ints:
    """Which period each day lies in; a day after the last one lies in it."""
    place: Ints = np.minimum(np.searchsorted(_as_days(ends), _as_days(dates)), len(ends) - 1)
    return place


def quarters_between(count: int) -> Floats:
    """Quarters from the middle of each period to that of the next, oldest first, shape (count - 1,)."""
    widths = np.array([_width(place) for place in range(count)][::-1], dtype=float)
    between: Floats = (widths[:-1] + widths[1:]) / 2
    return between


def quarters_ahead(dates: Sequence[pd.Timestamp], ends: Sequence[str]) -> Floats:
    """Quarters from the record's last day to each day after it; 0 for the others."""
    ahead: Floats = np.maximum((_as_days(dates) - _as_days(ends)[-1]).astype(float) / QUARTER_DAYS, 0.0)
    return ahead


def _width(place: int) -> int:
    return _WIDTHS[place] if place < len(_WIDTHS) else _YEAR


def _days(quarters: int) -> pd.Timedelta:
    return pd.Timedelta(days=round(quarters * QUARTER_DAYS))


def _as_days(dates: Iterable[pd.Timestamp | str]) -> Days:
    return np.array([pd.Timestamp(day) for day in dates], dtype="datetime64[D]")
