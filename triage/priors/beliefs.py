"""The few shapes an assumption about one number takes in a prior file, and its slugs, checked."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import Field

from triage.domain.documents import Document
from triage.errors import Fault, nearest

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


def slug_faults(
    document: Document, table: str, slugs: Iterable[str], known: Collection[str], what: str
) -> Iterator[Fault]:
    """Yield a fault for every slug of an array of tables that is unknown or given twice.

    Parameters
    ----------
    document : the file, for its name and line numbers.
    table : name of the array of tables, `[[table]]`.
    slugs : the slug of each entry, in file order.
    known : the slugs the catalogue has.
    what : what such a slug names, for the message ("damage kind").
    """
    seen: set[str] = set()
    for index, slug in enumerate(slugs):
        line = document.line((table, index, "slug"))
        words = f"{table} {index + 1}, slug"
        if slug not in known:
            wrong = f"{slug!r} is not a {what} of the catalogue" + nearest(slug, known)
            yield Fault(document.name, line, words, wrong, f"a {what} slug of the catalogue")
        elif slug in seen:
            yield Fault(document.name, line, words, f"{slug!r} is given twice", "one entry each")
        seen.add(slug)


def entry_slugs(priors: Any, table: str) -> tuple[str, ...]:
    """Return the slug of each entry of one array of tables."""
    return tuple(entry.slug for entry in getattr(priors, table))
