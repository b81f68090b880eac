"""Everything that stands about one job, as one frozen value."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from triage.domain.data_job import CopyErased, DataAsked, DataEnded
from triage.domain.job.life import JobRoute, JobState, WaitFor
from triage.domain.job.records import (
    Answer,
    Attempt,
    CheckMade,
    Comeback,
    Decision,
    FoundDamage,
    HandOver,
    Intake,
    Kept,
    LaterFate,
    LineChecked,
    LookedInside,
    Moved,
    PartFate,
    PartOrdered,
    Payment,
    PersonForgotten,
    Photo,
    Place,
    QuoteGiven,
    Stop,
    StopResolved,
)
from triage.domain.shop.shelf import PartLeft, PartReturned


@dataclass(frozen=True)
class JobFile:
    """Everything that stands about one job now: records that were corrected are not in it.

    version : raised by one with every change; a change based on an older one is refused.
    has_passcode : whether a passcode is kept; the code itself is read only on request.
    """

    id: int
    label: str
    route: JobRoute
    currency: str
    opened: datetime
    version: int
    moves: tuple[Kept[Moved], ...]
    intake: Kept[Intake]
    findings: tuple[Kept[FoundDamage], ...] = ()
    checks: tuple[Kept[CheckMade], ...] = ()
    looks: tuple[Kept[LookedInside], ...] = ()
    stops: tuple[Kept[Stop], ...] = ()
    resolved: tuple[Kept[StopResolved], ...] = ()
    places: tuple[Kept[Place], ...] = ()
    photos: tuple[Kept[Photo], ...] = ()
    decisions: tuple[Kept[Decision], ...] = ()
    quotes: tuple[Kept[QuoteGiven], ...] = ()
    answers: tuple[Kept[Answer], ...] = ()
    attempts: tuple[Kept[Attempt], ...] = ()
    lines: tuple[Kept[LineChecked], ...] = ()
    orders: tuple[Kept[PartOrdered], ...] = ()
    fates: tuple[Kept[PartFate], ...] = ()
    payments: tuple[Kept[Payment], ...] = ()
    handovers: tuple[Kept[HandOver], ...] = ()
    comebacks: tuple[Kept[Comeback], ...] = ()
    later_fates: tuple[Kept[LaterFate], ...] = ()
    forgotten: tuple[Kept[PersonForgotten], ...] = ()
    parts_left: tuple[Kept[PartLeft], ...] = ()
    parts_returned: tuple[Kept[PartReturned], ...] = ()
    data_asked: tuple[Kept[DataAsked], ...] = ()
    data_ended: tuple[Kept[DataEnded], ...] = ()
    copies_erased: tuple[Kept[CopyErased], ...] = ()
    has_passcode: bool = False

    @property
    def state(self) -> JobState:
        """State after the last move."""
        return self.moves[-1].record.state if self.moves else "considered"

    @property
    def wait_for(self) -> WaitFor | None:
        """What a waiting job waits for."""
        return self.moves[-1].record.wait_for if self.state == "waiting" else None

    @property
    def round(self) -> int:
        """How often the unit has come back."""
        return len(self.comebacks)

    @property
    def data_job(self) -> DataAsked | None:
        """What was asked of a job that saves data; None for any other.

        The quote that the owner accepted last decides; before any was, the last quote given.
        """
        accepted = [kept.record.quote for kept in self.answers if kept.record.yes]
        quote = accepted[-1] if accepted else self.quotes[-1].id if self.quotes else None
        return next((kept.record for kept in self.data_asked if kept.record.quote == quote), None)

    @property
    def open_stops(self) -> tuple[Kept[Stop], ...]:
        """Stops that nobody has resolved."""
        done = {kept.record.stop for kept in self.resolved}
        return tuple(stop for stop in self.stops if stop.id not in done)
