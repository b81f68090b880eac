"""What is believed of bench minutes before the shop's record speaks."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Annotated

from pydantic import Field

from triage.domain.catalogue import Catalogue
from triage.domain.documents import Document
from triage.errors import Fault
from triage.priors.beliefs import (
    BoundedScale,
    CountBelief,
    NormalBelief,
    PositiveBelief,
    Scale,
    entry_slugs,
    slug_faults,
)

Minutes = Annotated[float, Field(gt=0, le=2_000, allow_inf_nan=False)]


@dataclass(frozen=True)
class TypicalMinutes:
    """Median bench minutes of a fixed finding of severity 2, for one kind or family."""

    slug: str
    minutes: Minutes
    reason: str = ""


@dataclass(frozen=True)
class BenchMinutesPriors:
    """Prior file of the bench-minutes model; everything but minutes is on the log scale.

    give_up_minutes : work on an attempt that is not fixed by then stops here.
    minutes : median minutes of a kind that neither it nor its family has an entry for.
    level : error shared by all kinds.
    family_scale, kind_scale : spread believed between families, and between the
        kinds of one family.
    family_scale_fixed : the spread between families where there are fewer than five.
    severity_step : what one step of severity adds; above zero.
    method_sd : how far another method than the usual one strays from it.
    failed : what a failed attempt adds over a fixed one; failed_family_sd, how
        far families differ in it.
    spread : of the ordinary attempts.
    tail_share, tail_shift, tail_spread : the share of attempts in which the
        work gets stuck, what that adds, and their spread.
    """

    give_up_minutes: Minutes = 480.0
    minutes: Minutes = 30.0
    level: NormalBelief = NormalBelief(0.0, 0.5)
    family_scale: Scale = 0.4
    family_scale_fixed: Scale = 0.4
    kind_scale: Scale = 0.4
    severity_step: PositiveBelief = PositiveBelief(0.2, 0.5)
    method_sd: Scale = 0.4
    failed: NormalBelief = NormalBelief(0.2, 0.3)
    failed_family_sd: Scale = 0.15
    spread: BoundedScale = BoundedScale(0.1, 1.0, 0.4, 0.2)
    tail_share: CountBelief = CountBelief(3.0, 40.0)
    tail_shift: BoundedScale = BoundedScale(0.4, 2.0, 0.9, 0.3)
    tail_spread: BoundedScale = BoundedScale(0.15, 1.2, 0.5, 0.2)
    family: tuple[TypicalMinutes, ...] = ()
    kind: tuple[TypicalMinutes, ...] = ()
    note: str = ""

    @cached_property
    def _minutes(self) -> tuple[dict[str, float], dict[str, float]]:
        by_kind = {entry.slug: entry.minutes for entry in self.kind}
        return by_kind, {entry.slug: entry.minutes for entry in self.family}

    def typical(self, kind: str, family: str) -> float:
        """Median minutes of a kind: its own entry, else its family's, else the default."""
        by_kind, by_family = self._minutes
        return by_kind.get(kind, by_family.get(family, self.minutes))


def faults(priors: BenchMinutesPriors, document: Document, catalogue: Catalogue) -> Iterator[Fault]:
    """Yield families and kinds that the catalogue does not have."""
    yield from slug_faults(document, "family", entry_slugs(priors, "family"), catalogue.families, "family")
    yield from slug_faults(document, "kind", entry_slugs(priors, "kind"), catalogue.kinds, "damage kind")
