"""What is believed of comebacks before the shop's record speaks."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Annotated

from pydantic import Field

from triage.priors.beliefs import NormalBelief, Scale, Words

Rate = Annotated[float, Field(gt=0, le=5, allow_inf_nan=False)]


@dataclass(frozen=True)
class FamilyRate:
    """Comebacks per 30 days in the first 30 days, for one fixed finding of a family."""

    slug: str
    rate: Rate
    reason: Words


@dataclass(frozen=True)
class ComebackPriors:
    """Prior file of the comeback model.

    rate : of a family without an entry, comebacks per 30 days of exposure.
    level : error shared by all families, on the log scale.
    family_scale : half-normal scale of the spread between families;
        family_scale_fixed where there are fewer than five.
    later : log of the hazard of days 31 to 90, and of day 91 on, over that of
        the first 30 days.
    warranty_days : of a job that does not state its own.
    """

    note: Words
    rate: Rate
    level: NormalBelief
    family_scale: Scale
    family_scale_fixed: Scale
    later: tuple[NormalBelief, NormalBelief]
    warranty_days: Annotated[int, Field(ge=1, le=3650)]
    family: tuple[FamilyRate, ...] = ()

    @cached_property
    def _by_family(self) -> dict[str, float]:
        return {entry.slug: entry.rate for entry in self.family}

    def typical(self, family: str) -> float:
        """Comebacks per 30 days typical of a family, in the first 30 days."""
        return self._by_family.get(family, self.rate)
