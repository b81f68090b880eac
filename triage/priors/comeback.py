"""What is believed of comebacks before the shop's record speaks."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Annotated

import numpy as np
from pydantic import Field

from triage.domain.catalogue import Catalogue
from triage.domain.documents import Document
from triage.errors import Fault
from triage.priors.beliefs import NormalBelief, Scale, entry_slugs, slug_faults

# Days: the hazard is constant within 0-30, 31-90 and 91 on. Rates are per 30 days.
PIECE_ENDS = np.array([30.0, 90.0, np.inf])
MONTH = 30.0

Rate = Annotated[float, Field(gt=0, le=5, allow_inf_nan=False)]


@dataclass(frozen=True)
class FamilyRate:
    """Comebacks per 30 days in the first 30 days, for one fixed finding of a family."""

    slug: str
    rate: Rate
    reason: str = ""


@dataclass(frozen=True)
class ComebackPriors:
    """Prior file of the comeback model.

    rate : of a family without an entry, comebacks per 30 days of exposure.
    level : error shared by all families, on the log scale.
    family_scale : spread believed between families;
        family_scale_fixed where there are fewer than five.
    later : log of the hazard of days 31 to 90, and of day 91 on, over that of
        the first 30 days.
    warranty_days : of a job that does not state its own.
    """

    rate: Rate = 0.015
    level: NormalBelief = NormalBelief(0.0, 0.6)
    family_scale: Scale = 0.5
    family_scale_fixed: Scale = 0.5
    later: tuple[NormalBelief, NormalBelief] = (NormalBelief(-0.7, 0.5), NormalBelief(-1.2, 0.6))
    warranty_days: Annotated[int, Field(ge=1, le=3650)] = 90
    family: tuple[FamilyRate, ...] = ()
    note: str = ""

    @cached_property
    def _by_family(self) -> dict[str, float]:
        return {entry.slug: entry.rate for entry in self.family}

    def typical(self, family: str) -> float:
        """Comebacks per 30 days typical of a family, in the first 30 days."""
        return self._by_family.get(family, self.rate)


def piece_of(days: np.ndarray) -> np.ndarray:
    """Index of the piece of the hazard that each day since leaving falls in."""
    return np.searchsorted(PIECE_ENDS[:-1], days)


def exposure_by_piece(days: np.ndarray) -> np.ndarray:
    """Split days of exposure, shape (...,), into 30-day months of each piece, shape (..., piece)."""
    starts = np.array([0.0, *PIECE_ENDS[:-1]])
    return np.clip(np.asarray(days, dtype=float)[..., None] - starts, 0.0, PIECE_ENDS - starts) / MONTH


def faults(priors: ComebackPriors, document: Document, catalogue: Catalogue) -> Iterator[Fault]:
    """Yield families that the catalogue does not have."""
    yield from slug_faults(document, "family", entry_slugs(priors, "family"), catalogue.families, "family")
