"""A data job: what is asked before the data of an owner's device are touched, and how such a job ends.

Saving data is a job of its own, not a repair. Its records are tables of the
shop's record like those in `domain/job/records.py`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal, get_args

Backup = Literal["yes", "no", "not-known"]
Authority = Literal["owner", "estate", "other"]
Referral = Literal["not-advised", "declined", "accepted"]
Known = Literal["yes", "no", "not-known"]
Touch = Literal["works", "donor", "no", "not-known"]
DataOutcome = Literal["all", "part", "none"]
# What has to hold before any data can be read, in the order in which the bench finds out.
Condition = Literal["chips", "board", "touch", "code"]
FailedAt = Literal["", "chips", "board", "touch", "code", "reading", "stopped"]

DATA_OUTCOMES: tuple[DataOutcome, ...] = get_args(DataOutcome)
CONDITIONS: tuple[Condition, ...] = get_args(Condition)
# Those that can be asked of an owner; the board's is found out by repairing it.
ASKED: tuple[Condition, ...] = ("chips", "touch", "code")


@dataclass(frozen=True)
class DataFacts:
    """What is known before the data are touched.

    backup : whether a copy exists already. authority : who may ask for the data; local law decides.
    proof : what was shown of it. matters : what matters most, in order, one thing a line.
    irreplaceable : then a licensed data recovery practice is advised first; referral : what came of it.
    chips : original processor and storage are together. code : the owner knows the unlock code.
    touch : it works; a donor display is at hand; neither.
    """

    backup: Backup = "not-known"
    authority: Authority = "owner"
    proof: str = ""
    matters: str = ""
    irreplaceable: bool = False
    referral: Referral = "not-advised"
    chips: Known = "not-known"
    code: Known = "not-known"
    touch: Touch = "not-known"

    @property
    def in_order(self) -> tuple[str, ...]:
        """What matters most, first things first."""
        return tuple(line.strip() for line in self.matters.splitlines() if line.strip())

    @property
    def ruled_out(self) -> tuple[Condition, ...]:
        """Conditions that are known to fail: then nothing can be read."""
        return tuple(condition for condition in ASKED if getattr(self, condition) == "no")

    @property
    def not_known(self) -> tuple[Condition, ...]:
        """Conditions that nobody could answer beforehand."""
        return tuple(condition for condition in ASKED if getattr(self, condition) == "not-known")


@dataclass(frozen=True, kw_only=True)
class DataAsked(DataFacts):
    """A quote to save data, with what was known then.

    quote : the quote's id. fee_minor : fee for trying; 0 is no data, no fee.
    part_minor : due for a part of the data.
    all_chance, part_chance : what was forecast, to be compared with the outcome later.
    """

    quote: int
    on: date
    fee_minor: int = 0
    part_minor: int = 0
    all_chance: float = 0.0
    part_chance: float = 0.0


@dataclass(frozen=True)
class DataEnded:
    """How saving the data came out, by the owner's own list.

    failed_at : with no data, what failed; "stopped" where it was given up before anything showed.
    minutes : bench minutes of copying, opening and handing over. saved : what was saved, in words.
    erase_by : day by which the shop's own copy is erased; None where it holds none.
    """

    on: date
    outcome: DataOutcome
    failed_at: FailedAt = ""
    minutes: float | None = None
    saved: str = ""
    erase_by: date | None = None


@dataclass(frozen=True)
class CopyErased:
    """That the shop's own copy was erased, how, and what shows it."""

    on: date
    how: str
