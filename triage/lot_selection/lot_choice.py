"""What is said about a choice from a lot, as screens and the command line read it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from triage.domain.units.lot import BadRow
from triage.lot_selection.lot_risk import LotRisk
from triage.lot_selection.whole_lot import Binding
from triage.policy.answer.assessment import Verdict

Goal = Literal["expected", "worst"]
Work = Literal["repair", "strip", "leave", "not ours"]


@dataclass(frozen=True)
class Wanted:
    """What a choice is asked to keep to, in the file's own labels.

    cash : money for buying, with buyer's premiums and postage; None is no limit.
    hours : expected bench hours; None is no limit.
    most : by tier, most devices of it.
    must, never : labels of devices that are in, or out, whatever they earn.
    goal : the greatest expected margin, or the best mean of the worst 1 in 10.
    """

    cash: float | None = None
    hours: float | None = None
    most: Mapping[str, int] = field(default_factory=dict)
    must: tuple[str, ...] = ()
    never: tuple[str, ...] = ()
    goal: Goal = "expected"


@dataclass(frozen=True)
class UnitLine:
    """One unit of the lot.

    price : asking price, money; None where there is none.
    highest_bid : money; None where there is no price at all.
    margin, minutes, loss_chance : at the asking price (at none: at 0).
    priced_by : where its resale value is from, in a word or two.
    limited_by : parts of the go rule that fail above the highest price, by name, with spaces between.
    """

    label: str
    tier: str
    verdict: Verdict
    taken: bool
    price: float | None
    highest_bid: float | None
    margin: float | None
    minutes: float
    loss_chance: float | None
    priced_by: str = ""
    limited_by: str = ""


@dataclass(frozen=True)
class ByHand:
    """What picking by margin per hour would take, beside the choice.

    value : by the same goal, money. behind : how much less than the choice, money.
    """

    taken: int
    expected: float
    value: float
    behind: float


@dataclass(frozen=True)
class WholeWords:
    """The lot as one purchase (see `WholeLot`): counts in place of places.

    left : devices to leave, those that ownership forbids work on not counted.
    work : what is done with each device then, in file order.
    """

    bid: float | None
    stopped_by: Binding | None
    repaired: int
    stripped: int
    left: int
    refused: int
    bad_rows: int
    bad_row_value: float
    freight: float
    hours: float
    worth: float
    risk: LotRisk
    work: tuple[Work, ...]


@dataclass(frozen=True)
class LotChoice:
    """Which devices of a lot to take, at their asking prices.

    lines : every device, in file order.
    offered : how many the go rule takes at their price, and that carry one.
    outlay : what buying the taken ones costs, fees and postage included, money.
    hours : their expected bench hours.
    risk : of all taken ones together.
    value : what was made great: expected margin, or mean of the worst 1 in 10.
    short_by : how much more the best choice could have at most, money: 0 when proved.
    hour_worth, cash_worth : how much more one bench hour, and `cash_step` more
        money, would bring (None where there is no such limit).
    """

    currency: str
    wanted: Wanted
    lines: tuple[UnitLine, ...]
    bad_rows: tuple[BadRow, ...]
    offered: int
    outlay: float
    hours: float
    risk: LotRisk
    value: float
    short_by: float
    by_hand: ByHand
    hour_worth: float | None
    cash_worth: float | None
    cash_step: float
    whole: WholeWords | None = None

    @property
    def taken(self) -> tuple[UnitLine, ...]:
        """The devices to take."""
        return tuple(line for line in self.lines if line.taken)
