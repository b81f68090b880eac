"""A quote to save data: the offer to the owner, and separately the figures for the shop only."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from triage.domain.data_job import DataFacts
from triage.policy.answer.quote import BatteryConcern, BenchFigures, FittedPart, WorkLine
from triage.policy.data_job.chances import DataChances
from triage.policy.data_job.steps import DataStep


@dataclass(frozen=True)
class DataOffer:
    """Everything the owner is told. Money is in major units, tax included.

    price, part_price : due for all of the data, for part of it.
    fee : for trying, due whatever comes of it and a part of the price; 0 is no data, no fee.
    """

    price: float
    part_price: float
    fee: float
    facts: DataFacts
    work: tuple[WorkLine, ...]
    possible: tuple[str, ...]
    parts: tuple[FittedPart, ...]
    battery: BatteryConcern
    wet: bool
    copy_days: int
    valid_until: date
    valid_days: int
    answer_days: int

    @property
    def ceiling(self) -> float:
        """No work above this price is done without asking first."""
        return max(self.price, self.fee)


@dataclass(frozen=True)
class FeeWay:
    """One way to ask for money: a fee for trying, and the least price that meets the rule with it."""

    fee: float
    least: float | None
    losses_in_20: int


@dataclass(frozen=True)
class DataQuote:
    """One quote to save the data of one device.

    ways : the fees for trying that were looked at, from none upwards.
    """

    shop: str
    currency: str
    device: str
    model: str
    customer: str
    number: str
    issued: date
    offer: DataOffer
    chances: DataChances
    steps: tuple[DataStep, ...]
    ways: tuple[FeeWay, ...]
    bench: BenchFigures
