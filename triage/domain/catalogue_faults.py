"""What a catalogue's entries say of one another: slugs given twice, unknown, or in a circle."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter
from typing import Any

from triage.domain.documents import Document
from triage.errors import Fault, nearest

# (table, its field, the table whose slugs that field names)
_REFERENCES = (
    ("kind", "family", "family"),
    ("kind", "zones", "zone"),
    ("kind", "raises", "kind"),
    ("kind", "covers", "kind"),
    ("kind", "cautions", "caution"),
    ("repair", "closes", "kind"),
    ("repair", "parts", "part"),
    ("repair", "after", "repair"),
    ("repair", "cautions", "caution"),
    ("repair", "verify", "verification"),
    ("repair", "moves", "part"),
    ("repair", "spoilt_by", "kind"),
    ("check", "reveals", "kind"),
    ("check", "cautions", "caution"),
    ("check", "needs_part", "part"),
    ("check", "shares_error_with", "check"),
    ("symptom", "causes", "kind"),
    ("symptom", "cautions", "caution"),
    ("bundle", "kinds", "kind"),
    ("ruin", "kind", "kind"),
    ("step", "cautions", "caution"),
    ("step", "if_hazard", "caution"),
    ("step", "if_suspect", "caution"),
    ("step", "if_wet", "caution"),
    ("step", "if_glass", "caution"),
)


@dataclass(frozen=True)
class _Entry:
    """One entry as written: its document, its place there, its fields."""

    document: Document
    table: str
    index: int
    content: dict[str, Any]

    @property
    def slug(self) -> str:
        slug = self.content.get("slug")
        return slug if isinstance(slug, str) else ""

    def words(self, attribute: str) -> list[str]:
        """The slugs that one field names, as far as they are text."""
        value = self.content.get(attribute, ())
        values = value if isinstance(value, list) else [value]
        return [word for word in values if isinstance(word, str) and word]

    def fault(self, attribute: str, wrong: str, allowed: str) -> Fault:
        line = self.document.line((self.table, self.index, attribute))
        named = self.slug or str(self.index + 1)
        return Fault(self.document.name, line, f"{self.table} {named}, {attribute}", wrong, allowed)


def _entries(documents: list[Document]) -> Iterator[_Entry]:
    for document in documents:
        for table, entries in document.tables.items():
            for index, content in enumerate(entries if isinstance(entries, list) else ()):
                if isinstance(content, dict):
                    yield _Entry(document, table, index, content)


def cross_faults(documents: list[Document], tables: list[str], name: str) -> Iterator[Fault]:
    """Yield every slug given twice, every slug that no entry has, and every circle.

    Works on the entries as written, so that it says its part even where the
    shape of another entry is wrong.

    Parameters
    ----------
    documents : the parsed files of one catalogue.
    tables : names of the arrays of tables that a catalogue may hold.
    name : the catalogue as the user named it, for a fault that has no line.
    """
    entries: dict[str, list[_Entry]] = {table: [] for table in tables}
    for entry in _entries(documents):
        entries.setdefault(entry.table, []).append(entry)
    if not entries["kind"]:
        yield Fault(name, None, "kind", "no damage kind is given", "at least one [[kind]]")
    known = {table: [entry.slug for entry in found if entry.slug] for table, found in entries.items()}
    for found in entries.values():
        seen: set[str] = set()
        for entry in found:
            if entry.slug and entry.slug in seen:
                yield entry.fault("slug", f"{entry.slug!r} is given twice", "one entry")
            if entry.slug and not entry.slug.isprintable():
                yield entry.fault("slug", f"{entry.slug!r} cannot be printed", "plain letters")
            for attribute in ("raises", "covers"):
                if entry.slug in entry.words(attribute):
                    yield entry.fault(attribute, f"{entry.slug!r} lists itself", "other damage kinds")
            seen.add(entry.slug)
    for table, attribute, target in _REFERENCES:
        if target == "family" and not known["family"]:
            continue
        for entry in entries[table]:
            for slug in entry.words(attribute):
                if slug not in known[target]:
                    wrong = f"no {target} has the slug {slug!r}" + nearest(slug, known[target])
                    yield entry.fault(attribute, wrong, f"a {target} slug")
    yield from _circles(entries["repair"])


def _circles(repairs: list[_Entry]) -> Iterator[Fault]:
    """Yield repairs that must come after themselves: none of them could ever be done."""
    after = {entry.slug: entry.words("after") for entry in repairs}
    try:
        TopologicalSorter(after).prepare()
    except CycleError as problem:
        circle = problem.args[1]
        entry = next(entry for entry in repairs if entry.slug == circle[-1])
        order = " after ".join(reversed(circle))
        yield entry.fault("after", f"is circular: {order}", "an order without a circle")
