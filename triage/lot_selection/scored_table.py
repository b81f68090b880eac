"""A scored lot as a table: what is written, printed and read again."""

from __future__ import annotations

from dataclasses import dataclass, fields

from triage.domain.units.lot import BadRow
from triage.policy.answer.assessment import Verdict


@dataclass(frozen=True, slots=True)
class ScoredRow:
    """One line of the table; money in major units, None where there is none.

    loses_in_20 : chance of losing money at the asking price, times 20.
    priced_by : where the resale value is from, in a word or two.
    limited_by : parts of the go rule that fail above the highest price, by name, with spaces between.
    whole : "yes", or "no" where repairs or checks were set aside to weigh the rest.
    """

    line: int
    unit: str
    tier: str
    verdict: Verdict
    ask: float | None
    margin: float
    highest_bid: float | None
    minutes: float
    loses_in_20: float
    margin_as_parts: float | None
    whole: str
    priced_by: str = ""
    limited_by: str = ""


# Names of the table's columns, as its file has them.
COLUMNS = tuple(field.name for field in fields(ScoredRow))


@dataclass(frozen=True)
class LotTable:
    """A scored lot as a table, in file order. taken_over : rows that an earlier run had scored."""

    rows: tuple[ScoredRow, ...]
    bad_rows: tuple[BadRow, ...]
    currency: str
    taken_over: int = 0
