"""Slugs in a prior file checked against the catalogue."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from typing import Any

from triage.domain.documents import Document
from triage.errors import Fault, nearest


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
