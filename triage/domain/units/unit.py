"""A unit under consideration: what it is, what is seen on it, who owns it."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Annotated, Literal

from pydantic import Field

from triage.domain.money import Money

Severity = Annotated[int, Field(ge=1, le=3, strict=True)]
Chance = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]
Text = Annotated[str, Field(max_length=200)]

# What happened to it; "" is not known. A closed list: what is suspect hangs on it.
CAUSES = ("dropped", "bent", "wet", "crushed", "worn")
Lock = Literal["clear", "locked-to-owner", "locked-to-another", "cannot-tell"]
Identity = Literal["agrees", "mismatch", "cannot-read", "not-checked"]
# Company management or finance that somebody has not released; "" follows lock and numbers: nobody said.
Enrolled = Literal["", "clear", "not-checked", "enrolled"]
# Where it comes from; "" was not said, and counts as unknown.
Source = Literal["", "owner-in-person", "trade-seller", "auction", "unknown"]
ExtraWork = Literal["ask", "refused"]
# reacting: hot while off, hissing, smelling or smoking. absent: there is none in the device.
BatteryState = Literal["sound", "not-seen", "suspect", "hazard", "reacting", "absent"]


@dataclass(frozen=True)
class Finding:
    """One damage on a unit.

    `chance` is 1 for damage that is seen; for a suspected one, the chance that
    it is there (8 in 20 is 0.4). Severity is as judged at intake.
    """

    kind: str
    severity: Severity = 2
    zone: str = ""
    chance: Chance = 1.0
    known_at: Literal["intake", "opening", "test"] = "intake"
    note: Text = ""

    @property
    def seen(self) -> bool:
        """Whether the damage is certain."""
        return self.chance >= 1.0


@dataclass(frozen=True)
class CheckResult:
    """The result of a check already made: whether it found what it looks for, and when, where it is told."""

    check: str
    found: bool
    on: date | None = None


@dataclass(frozen=True)
class Ownership:
    """What is known of the right to buy or work on the unit."""

    lock: Lock = "clear"
    identity: Identity = "agrees"
    listed: bool = False
    carrier_locked: bool = False
    proof_recorded: bool = False
    enrolled: Enrolled = ""
    source: Source = ""


@dataclass(frozen=True)
class Unit:
    """One device being considered. Money is in major units of the shop's currency.

    `working_price` is what it would fetch fully working and `parts_value` what
    its parts would fetch as it lies; None means the price book's figure for
    the tier. `extra_work` is what an owner said about faults found later: ask
    first, or refused beforehand. `covered` holds (damage, lesser damage of the
    same part that it stands for), once a unit is normalised.
    """

    name: Text
    tier: str
    findings: tuple[Finding, ...] = ()
    symptoms: tuple[str, ...] = ()
    readings: tuple[CheckResult, ...] = ()
    model: Text = ""
    cause: str = ""
    technician: str = ""
    working_price: Money | None = None
    parts_value: Money | None = None
    battery: BatteryState = "not-seen"
    data_wanted: bool = False
    extra_work: ExtraWork = "ask"
    ownership: Ownership = field(default_factory=Ownership)
    covered: tuple[tuple[str, str], ...] = ()

    @property
    def kinds(self) -> tuple[str, ...]:
        """Damage kinds on it, those that another stands for too."""
        return (*(finding.kind for finding in self.findings), *(lesser for _, lesser in self.covered))
