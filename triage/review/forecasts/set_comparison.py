"""Prior sets scored on the same later jobs: the frozen result of their comparison."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any


@dataclass(frozen=True)
class ComparedSet:
    """How one set did on the blocks that all were scored on.

    brier, log : mean penalty an attempt; joint_log : a job.
    fits, failed_fits : how many there were, and how many of them failed their gate and were not
        used: the fit before went on instead, or assumptions alone.
    gain : joint log penalty of the first set less this one's, a job: above 0
        where this one is better; low, high : 90 % interval, jobs drawn.
        None for the first set.
    """

    name: str
    brier: float
    log: float
    joint_log: float
    fits: int
    failed_fits: int
    gain: float | None = None
    low: float | None = None
    high: float | None = None

    @property
    def words(self) -> str:
        """How it did against the first, in words; "" for the first."""
        if self.gain is None or self.low is None or self.high is None:
            return ""
        if self.low > 0:
            return "forecasts better than the first"
        return (
            "forecasts worse than the first"
            if self.high < 0
            else "does not differ from the first by more than chance"
        )

    @property
    def failed_words(self) -> str:
        """How many of its fits could not be used; "" where all could."""
        if not self.failed_fits:
            return ""
        return (
            f"{self.failed_fits} of its {self.fits} fits failed; "
            "the previous fit, or assumptions only, replaced them"
        )


@dataclass(frozen=True)
class Comparison:
    """Prior sets scored on the same later blocks.

    first : jobs taken in before this day were left out, because a set was tuned
        on them; None where no set was tuned.
    jobs, attempts : that were forecast.
    """

    first: date | None
    jobs: int
    attempts: int
    sets: tuple[ComparedSet, ...]

    @property
    def words(self) -> str:
        """What was forecast, in words."""
        start = f", all taken in from {self.first} on, after the jobs that a set was tuned on"
        return f"{self.jobs:,} jobs, {self.attempts:,} attempts forecast" + (start if self.first else "")


def comparison_from(held: Mapping[str, Any]) -> Comparison:
    """Rebuild a comparison from the object that `reports.comparison_json` made of it."""
    first = date.fromisoformat(held["first"]) if held["first"] else None
    names = ("name", "brier", "log", "joint_log", "fits", "failed_fits", "gain", "low", "high")
    sets = tuple(ComparedSet(**{name: one[name] for name in names}) for one in held["sets"])
    return Comparison(first, held["jobs"], held["attempts"], sets)
