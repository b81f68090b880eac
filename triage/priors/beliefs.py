"""The few shapes an assumption about one number takes in a prior file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from pydantic import Field

Finite = Annotated[float, Field(ge=-20, le=20, allow_inf_nan=False)]
Scale = Annotated[float, Field(gt=0, le=10, allow_inf_nan=False)]
Positive = Annotated[float, Field(gt=0, le=100_000, allow_inf_nan=False)]
OpenChance = Annotated[float, Field(gt=0, lt=1, allow_inf_nan=False)]


@dataclass(frozen=True)
class NormalBelief:
    """A number believed to lie at `mean`, give or take `sd` (one standard deviation)."""

    mean: Finite
    sd: Scale
    reason: str = ""


@dataclass(frozen=True)
class PositiveBelief:
    """A number above zero: log-normal with this median and sd on the log scale."""

    median: Positive
    sd: Scale
    reason: str = ""


@dataclass(frozen=True)
class BoundedScale:
    """A spread held between `low` and `high`, normal about `mean` before the bounds.

    The bounds keep the mean of a log-normal quantity finite, and the sampler
    away from the corners where two parts of a mixture change places.
    """

    low: Scale
    high: Scale
    mean: Scale
    sd: Scale
    reason: str = ""

    def __post_init__(self) -> None:
        """Refuse bounds that are the wrong way round or leave the mean outside."""
        if not self.low < self.mean < self.high:
            raise ValueError("low < mean < high")


@dataclass(frozen=True)
class CountBelief:
    """A chance worth `alpha` happenings against `beta` non-happenings (a Beta prior)."""

    alpha: Positive
    beta: Positive
    reason: str = ""
