"""What a shop's own catalogue must not loosen: each fault names the safety rule that it would break."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from triage.domain.documents import Document
from triage.domain.safety.facts import facts
from triage.domain.safety.rules import load_rules
from triage.errors import Fault

# Fields of a shipped kind that say what it does to battery and liquid, as they must stay.
_KEPT = ("battery", "liquid", "role", "needed")
# The rule that breaks first where a bad cell is passed over, or liquid.
_OF_BATTERY, _OF_LIQUID = "closing-needs-a-sound-battery", "test-needs-dry"


def safety_faults(documents: list[Document], shipped: dict[str, Any]) -> Iterator[Fault]:
    """Yield every entry, as written, that would switch a safety rule off.

    Parameters
    ----------
    documents : the parsed files of one catalogue.
    shipped : the shipped damage kinds by slug.
    """
    kinds, repairs = list(_entries(documents, "kind")), list(_entries(documents, "repair"))
    bad = {slug for slug, kind in shipped.items() if kind.battery == "hazard"}
    for document, place, kind in kinds:
        slug, known = str(kind.get("slug", "")), shipped.get(str(kind.get("slug", "")))
        words = f"kind {slug}"
        if known is not None and (known.battery != "none" or known.liquid):
            rule = _OF_BATTERY if known.battery != "none" else _OF_LIQUID
            for name in _KEPT:
                wanted = getattr(known, name)
                if name in kind and kind[name] != wanted:
                    yield _fault(
                        document, ("kind", place, name), f"{words}, {name}", kind[name], wanted, rule
                    )
        elif kind.get("battery") == "hazard":
            bad.add(slug)
            for name, wanted in (("role", "repair"), ("needed", True)):
                if kind.get(name, wanted) != wanted:
                    at = ("kind", place, name)
                    yield _fault(document, at, f"{words}, {name}", kind[name], wanted, _OF_BATTERY)
    apart = bad | {
        slug
        for slug, kind in shipped.items()
        if kind.battery != "none" or kind.liquid or kind.role != "repair"
    }
    for document, place, kind in kinds:
        # What the rules ask for must stay a damage of its own.
        for slug in sorted(apart & set(_words(kind, "covers"))):
            line, words = document.line(("kind", place, "covers")), f"kind {kind.get('slug', '')}, covers"
            wrong = f"{slug!r} must be counted apart: battery, liquid and ownership are judged by it"
            yield Fault(document.name, line, words, wrong, "damage of another sort")
    for document, place, repair in repairs:
        closes = bad & set(_words(repair, "closes"))
        if not closes:
            continue
        slug, cell = str(repair.get("slug", "")), ", ".join(sorted(closes))
        for act in _words(repair, "acts"):
            broken = load_rules().broken([act], facts("bad", opened="opened"))
            if broken and act not in ("pry", "solvent"):  # how a cell that was made safe is lifted out
                wrong = f"{act!r} cannot close {cell}: it breaks the safety rule {broken[0].slug}"
                line = document.line(("repair", place, "acts"))
                yield Fault(document.name, line, f"repair {slug}, acts", wrong, "pry, solvent")
        if "battery" not in _words(repair, "parts"):
            wrong = f"lacks the battery, yet it closes {cell}: it breaks the safety rule {_OF_BATTERY}"
            line = document.line(("repair", place, "parts"))
            yield Fault(document.name, line, f"repair {slug}, parts", wrong, "parts that include battery")


def as_shipped(kind: Any, shipped: dict[str, Any]) -> Any:
    """A shop's own entry of a shipped damage kind, with what that does to battery and liquid."""
    known = shipped.get(kind.slug)
    if known is None or (known.battery == "none" and not known.liquid):
        return kind
    return replace(kind, **{name: getattr(known, name) for name in _KEPT})


def _fault(
    document: Document, at: tuple[str | int, ...], words: str, given: Any, wanted: Any, rule: str
) -> Fault:
    wrong = f"{given!r} breaks the safety rule {rule}"
    return Fault(document.name, document.line(at), words, wrong, str(wanted).lower())


def _entries(documents: list[Document], table: str) -> Iterator[tuple[Document, int, dict[str, Any]]]:
    for document in documents:
        found = document.tables.get(table, [])
        for place, entry in enumerate(found if isinstance(found, list) else []):
            if isinstance(entry, dict):
                yield document, place, entry


def _words(entry: dict[str, Any], name: str) -> list[str]:
    value = entry.get(name, [])
    return [word for word in value if isinstance(word, str)] if isinstance(value, list) else []
