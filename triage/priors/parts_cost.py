"""What is believed of parts cost over the price book before the record speaks."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from triage.domain.catalogue import Catalogue
from triage.domain.documents import Document
from triage.errors import Fault
from triage.priors.beliefs import (
    BoundedScale,
    CountBelief,
    Finite,
    NormalBelief,
    Scale,
    entry_slugs,
    slug_faults,
)


@dataclass(frozen=True)
class FamilyRatio:
    """Log of paid over listed parts cost, typical of one family."""

    slug: str
    log_ratio: Finite
    reason: str = ""


@dataclass(frozen=True)
class PartsCostPriors:
    """Prior file of the parts-cost model; all on the scale of log(paid / price book).

    level : error shared by all families, about their typical log ratio.
    log_ratio : typical of a family without an entry.
    family_scale : spread believed between families;
        family_scale_fixed where there are fewer than five.
    spread : of single purchases within a family.
    bought_again : share of attempts whose parts are paid for twice, whatever the
        price book says of parts dead on arrival: most of those are taken back.
    """

    level: NormalBelief = NormalBelief(0.0, 0.15)
    log_ratio: Finite = 0.0
    family_scale: Scale = 0.1
    family_scale_fixed: Scale = 0.1
    spread: BoundedScale = BoundedScale(0.02, 0.8, 0.2, 0.15)
    bought_again: CountBelief = CountBelief(2.0, 150.0)
    family: tuple[FamilyRatio, ...] = ()
    note: str = ""

    @cached_property
    def _by_family(self) -> dict[str, float]:
        return {entry.slug: entry.log_ratio for entry in self.family}

    def typical(self, family: str) -> float:
        """Typical log ratio of a family."""
        return self._by_family.get(family, self.log_ratio)


def faults(priors: PartsCostPriors, document: Document, catalogue: Catalogue) -> Iterator[Fault]:
    """Yield families that the catalogue does not have."""
    yield from slug_faults(document, "family", entry_slugs(priors, "family"), catalogue.families, "family")
