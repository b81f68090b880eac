"""A lot: many units offered together, as read from one file."""

from __future__ import annotations

from dataclasses import dataclass

from triage.domain.units.unit import Unit
from triage.errors import Fault


@dataclass(frozen=True)
class LotRow:
    """One unit of a lot.

    line : its line in the file. ask : asking price, major units; None where
    the row gives none. text : the row as it stands, comma separated.
    """

    line: int
    unit: Unit
    ask: float | None
    text: str


@dataclass(frozen=True)
class BadRow:
    """A row that cannot be scored, kept as it stands, with every fault in it."""

    line: int
    label: str
    text: str
    faults: tuple[Fault, ...]


@dataclass(frozen=True)
class Lot:
    """The rows of a lot in file order; those that cannot be scored stand apart."""

    name: str
    rows: tuple[LotRow, ...]
    bad_rows: tuple[BadRow, ...] = ()
