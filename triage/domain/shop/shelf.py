"""Parts outside any job: prices as they were found, parts on the shop's own shelf, and who bought them.

Money is integer minor units of the currency named beside it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

ShelfMove = Literal["reserved", "released", "fitted", "scrapped", "sold"]
LeftAs = Literal["sold", "scrapped"]
ReturnedTo = Literal["shelf", "scrapped"]


@dataclass(frozen=True)
class PriceFound:
    """What a part costs at one source on one day; the newest for a part and model stands.

    tier, model : what it fits; a model outranks a tier, "" fits any.
    lead_low, lead_likely, lead_high : days until it is here.
    returnable_days : how long it may go back; 0 when it may not.
    """

    part: str
    source: str
    cost_minor: int
    currency: str
    checked_on: date
    tax_minor: int = 0
    tier: str = ""
    model: str = ""
    grade: str = ""
    lead_low: float = 0.0
    lead_likely: float = 1.0
    lead_high: float = 3.0
    returnable_days: int = 0
    dead_on_arrival: float = 0.0


@dataclass(frozen=True)
class ShelfPart:
    """A part taken off a stripped unit, or bought to stock.

    donor : id of the job it came from; None when bought. tier, model : what it fits, a model
    outranks a tier and both blank fit any; of several models ";" stands between them. paired : bound
    to the donor's identity. cost_minor : its share of what the donor cost; the shares
    of one donor sum to its purchase price. worth_minor : what it would cost to
    buy, or what it fetches, when its donor was stripped; None where that is not known.
    wiped : of a part that holds data, how they were erased, and what shows it.
    """

    part: str
    cost_minor: int
    currency: str
    donor: int | None = None
    tier: str = ""
    model: str = ""
    grade: str = ""
    tested: bool = False
    paired: bool = False
    bin: str = ""
    worth_minor: int | None = None
    wiped: str = ""


@dataclass(frozen=True)
class ShelfMoved:
    """What happened to a shelf part. Reserved for a job is no longer on hand."""

    shelf: int
    move: ShelfMove
    job: int | None = None
    note: str = ""


@dataclass(frozen=True)
class PartLeft:
    """A shelf part that left the shop, kept with the job it was taken from where there is one.

    shelf : id of the shelf part; None where a file of past jobs told it. price_minor : what the
    buyer paid, tax included. fees_minor : fees and postage. cost_minor, worth_minor : of the shelf
    part, as in `ShelfPart`. person : the buyer.
    """

    how: LeftAs
    on: date
    shelf: int | None = None
    part: str = ""
    price_minor: int = 0
    fees_minor: int = 0
    cost_minor: int = 0
    worth_minor: int | None = None
    person: str = ""
    note: str = ""


@dataclass(frozen=True)
class PartReturned:
    """A sold part that its buyer returned. left : id of its sale. to : where the part went then."""

    left: int
    on: date
    to: ReturnedTo
    refund_minor: int
    note: str = ""
