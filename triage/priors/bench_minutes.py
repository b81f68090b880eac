"""What is believed of bench minutes before the shop's record speaks."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Annotated

from pydantic import Field

from triage.priors.beliefs import BoundedScale, CountBelief, NormalBelief, PositiveBelief, Scale, Words

Minutes = Annotated[float, Field(gt=0, le=2_000, allow_inf_nan=False)]


@dataclass(frozen=True)
class TypicalMinutes:
    """Median bench minutes of a fixed finding of severity 2, for one kind or family."""

    slug: str
    minutes: Minutes
    reason: Words


@dataclass(frozen=True)
class BenchMinutesPriors:
    """Prior file of the bench-minutes model; everything but minutes is on the log scale.

    give_up_minutes : no attempt is worked on for longer.
    minutes : median minutes of a kind that neither it nor its family has an entry for.
    level : error shared by all kinds.
    family_scale, kind_scale : half-normal scales of the spread between families,
        and between the kinds of one family.
    family_scale_fixed : the spread between families where there are fewer than five.
    severity_step : what one step of severity adds; above zero.
    failed : what a failed attempt adds over a fixed one; failed_family_sd, how
        far families differ in it.
    spread : of the ordinary attempts.
    tail_share, tail_shift, tail_spread : the share of attempts in which the
        work gets stuck, what that adds, and their spread.
    """

    note: Words
    give_up_minutes: Minutes
    minutes: Minutes
    level: NormalBelief
    family_scale: Scale
    family_scale_fixed: Scale
    kind_scale: Scale
    severity_step: PositiveBelief
    failed: NormalBelief
    failed_family_sd: Scale
    spread: BoundedScale
    tail_share: CountBelief
    tail_shift: BoundedScale
    tail_spread: BoundedScale
    family: tuple[TypicalMinutes, ...] = ()
    kind: tuple[TypicalMinutes, ...] = ()

    @cached_property
    def _minutes(self) -> tuple[dict[str, float], dict[str, float]]:
        by_kind = {entry.slug: entry.minutes for entry in self.kind}
        return by_kind, {entry.slug: entry.minutes for entry in self.family}

    def typical(self, kind: str, family: str) -> float:
        """Median minutes of a kind: its own entry, else its family's, else the default."""
        by_kind, by_family = self._minutes
        return by_kind.get(kind, by_family.get(family, self.minutes))
