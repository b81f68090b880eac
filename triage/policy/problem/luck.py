"""Random variation from job to job besides outcomes: minutes, parts, mishaps, comebacks and days."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cache

from triage.arrays import Floats, Ints


@dataclass(frozen=True)
class OptionLuck:
    """Simulated values of one repair on each path; axis 0 is (when fixed, when failed).

    minutes : ndarray, shape (2, path), bench minutes.
    parts : ndarray, shape (2, path), money.
    extra : ndarray, shape (2, path), money for damage done and dead parts.
    comeback : ndarray, shape (path,), money lost to comebacks once fixed.
    days : ndarray, shape (path,), days until its parts are here; None is 0.
    """

    minutes: Floats
    parts: Floats
    extra: Floats
    comeback: Floats
    days: Floats | None = None


class OnDemand(Sequence[OptionLuck]):
    """Simulated values drawn once, on first use: most plans try few of a device's repairs."""

    def __init__(self, makers: Iterable[Callable[[], OptionLuck]]):
        self._makers = [cache(maker) for maker in makers]

    def __len__(self) -> int:
        """How many repairs there are."""
        return len(self._makers)

    def __getitem__(self, place: int) -> OptionLuck:  # type: ignore[override]  # nobody asks for a slice
        """The simulated values of one repair."""
        return self._makers[place]()

    def only(self, places: Iterable[int]) -> OnDemand:
        """Some of the repairs, not drawn yet either."""
        return OnDemand(self._makers[place] for place in places)


@dataclass(frozen=True)
class Luck:
    """Everything that varies from path to path.

    scenario : ndarray of int, shape (path,).
    options : one `OptionLuck` an option of the problem.
    seed : of the uniform draws that decide outcomes.
    """

    scenario: Ints
    options: Sequence[OptionLuck]
    seed: int = 0

    def only(self, places: Sequence[int]) -> Luck:
        """The same simulated values for a device with only some of the repairs."""
        if isinstance(self.options, OnDemand):
            return replace(self, options=self.options.only(places))
        return replace(self, options=tuple(self.options[place] for place in places))
