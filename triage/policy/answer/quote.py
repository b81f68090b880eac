"""A quote: the offer to the owner, and separately the figures for the shop only.

The document is written from `Offer` alone; `BenchFigures` holds margin, cost
and chances, and never leaves the shop.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING, Literal
from zlib import crc32

if TYPE_CHECKING:
    from triage.policy.pricing.quote_prices import BestPrice

BatteryConcern = Literal["no concern", "suspect", "hazard"]
QuoteKind = Literal["fixed", "diagnostic-fee", "staged"]
QUOTE_KINDS: tuple[QuoteKind, ...] = ("fixed", "diagnostic-fee", "staged")


@dataclass(frozen=True)
class WorkLine:
    """One thing wrong and what is done about it, in the owner's words.

    seen : False when it is only suspected; the work is then done if it is there.
    included : False when it stays as it is.
    """

    wrong: str
    done: str
    seen: bool = True
    included: bool = True


@dataclass(frozen=True)
class FittedPart:
    """A part that the work fits: its grade as the price book says it, and whether it is paired."""

    name: str
    grade: str
    paired: bool


@dataclass(frozen=True)
class Stage:
    """What can be said of the price once a stage of looking is reached; None where no price can.

    may_end : whether by then it may turn out not to be worth repairing.
    """

    name: str
    low: float | None
    high: float | None
    maximum: float | None
    may_end: bool


@dataclass(frozen=True)
class Offer:
    """Everything the owner is told. Money is in major units, tax included.

    ceiling : no work above this price is done without asking first.
    fee : diagnostic fee, a part of the price when it is repaired; 0 when there is none.
    reduced : price when one function, or more than one, could not be restored; None
        when nothing of the work is optional.
    possible : faults that cannot be seen yet.
    lost : functions that may not come back.
    carried_over : paired parts of the device that are moved to another assembly.
    part_days : usual and latest days until the parts are here.
    over_worth : the price is more than such a device is usually worth when it works.
    """

    price: float
    ceiling: float
    fee: float
    reduced: tuple[float, float] | None
    work: tuple[WorkLine, ...]
    possible: tuple[str, ...]
    parts: tuple[FittedPart, ...]
    lost: tuple[str, ...]
    carried_over: tuple[str, ...]
    stages: tuple[Stage, ...]
    part_days: tuple[float, float]
    battery: BatteryConcern
    wet: bool
    data_wanted: bool
    over_worth: bool
    valid_until: date
    valid_days: int
    answer_days: int
    warranty_days: int

    @property
    def one_total(self) -> float | None:
        """The price of every stage, where all have the same single one; else None."""
        totals = {total for stage in self.stages for total in (stage.low, stage.high, stage.maximum)}
        return totals.pop() if len(totals) == 1 else None


@dataclass(frozen=True)
class BenchFigures:
    """What the price means for the shop; never shown to the owner.

    least : least price at which the shop's rule holds, money; None when none does.
    break_even : under it the work is expected to cost more than it brings; None when
        no price up to three times its worth brings back the cost.
    below_cost : whether the quoted price is under it. The other figures are then those
        of doing the promised work all the same; handing it back at once would lose less.
    best : price that earns most where the shop knows how owners answer.
    notes : what else the bench should know before it signs.
    priced_by : where the resale value is from, in words.
    """

    least: float | None
    break_even: float | None
    below_cost: bool
    expected_margin: float
    losses_in_20: int
    margin_per_hour: float | None
    minutes: float
    chance_finished: float
    best: BestPrice | None
    notes: tuple[str, ...]
    priced_by: str = ""


@dataclass(frozen=True)
class Quote:
    """One quote for one owner's device."""

    kind: QuoteKind
    shop: str
    currency: str
    device: str
    model: str
    customer: str
    number: str
    issued: date
    offer: Offer
    bench: BenchFigures


def number_of(issued: date, *told: object) -> str:
    """A number for a quote that was given none: its date and a checksum of what it says."""
    return f"{issued.isoformat()}-{crc32(repr(told).encode()) % 10_000:04d}"


def last_day(issued: date, days: int) -> date:
    """Last day on which a quote stands."""
    return issued + timedelta(days=days)
