"""A letter as data, so that its PDF and its HTML copy say the same: only text, no markup."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Grid:
    """A table: its head, and one row of text a line."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Section:
    """One section: a title, then what of these there is, in this order.

    care : a caution, set apart from the rest.
    """

    title: str
    opening: tuple[str, ...] = ()
    grid: Grid | None = None
    bullets: tuple[str, ...] = ()
    closing: tuple[str, ...] = ()
    care: bool = False


@dataclass(frozen=True)
class Letter:
    """The document, ready to be set: only text, no markup.

    facts : label and text of each line of the head.
    signatures : who signs.
    issued : year, month and day.
    sample : a line over everything else when it is no real offer, or nothing.
    """

    title: str
    shop: str
    number: str
    facts: tuple[tuple[str, str], ...]
    price_label: str
    price: str
    price_words: str
    sections: tuple[Section, ...]
    signatures: tuple[str, ...]
    issued: tuple[int, int, int]
    sample: str = ""
