"""What is believed of parts cost over the price book before the record speaks."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from triage.priors.beliefs import BoundedScale, Finite, NormalBelief, Scale, Words


@dataclass(frozen=True)
class FamilyRatio:
    """Log of paid over listed parts cost, typical of one family."""

    slug: str
    log_ratio: Finite
    reason: Words


@dataclass(frozen=True)
class PartsCostPriors:
    """Prior file of the parts-cost model; all on the scale of log(paid / price book).

    level : error shared by all families, about their typical log ratio.
    log_ratio : typical of a family without an entry.
    family_scale : half-normal scale of the spread between families;
        family_scale_fixed where there are fewer than five.
    spread : of single purchases.
    """

    note: Words
    level: NormalBelief
    log_ratio: Finite
    family_scale: Scale
    family_scale_fixed: Scale
    spread: BoundedScale
    family: tuple[FamilyRatio, ...] = ()

    @cached_property
    def _by_family(self) -> dict[str, float]:
        return {entry.slug: entry.log_ratio for entry in self.family}

    def typical(self, family: str) -> float:
        """Typical log ratio of a family."""
        return self._by_family.get(family, self.log_ratio)
