"""The chance that a data job saves all, part or none of the data.

Four things must hold before anything can be read: original processor and
storage together, a board that can be made to run, a touch (or a donor display)
to enter the code with, and the code. Given that all four hold, reading gives
all, part or none. The board's chance is that of the plan of repairs; the
others are a belief worth so many jobs, updated by the shop's own counts: a
Beta for each condition, a Dirichlet for the outcome (conjugate: Gelman et al.,
Bayesian Data Analysis, 3rd ed., sections 2.4 and 3.4, from memory), so that each mean is
(jobs x share + count) / (jobs + counts).
"""

from __future__ import annotations

from dataclasses import dataclass

from triage.domain.data_job import ASKED, Condition, DataFacts, DataOutcome
from triage.domain.shop.data_record import DataRecord
from triage.domain.shop.data_settings import DataJobs


@dataclass(frozen=True)
class ReadingChances:
    """What follows once the board runs, whatever it took.

    conditions : chance of each other condition, as known or believed.
    given_read : chance of (all, part, none) where all conditions hold; sums to 1.
    """

    conditions: dict[Condition, float]
    given_read: tuple[float, float, float]

    @property
    def readable(self) -> float:
        """Chance that everything but the board holds."""
        product = 1.0
        for chance in self.conditions.values():
            product *= chance
        return product

    @property
    def outcomes(self) -> tuple[float, float, float]:
        """Chance of (all, part, none) once the board runs; sums to 1."""
        whole, part = (self.readable * share for share in self.given_read[:2])
        return whole, part, 1.0 - whole - part


@dataclass(frozen=True)
class DataChances:
    """Chance of each outcome of a data job, and of what it hangs on."""

    board: float
    reading: ReadingChances

    def of(self, outcome: DataOutcome) -> float:
        """Chance of an outcome; the three sum to 1."""
        whole, part = (self.board * share for share in self.reading.outcomes[:2])
        return {"all": whole, "part": part, "none": 1.0 - whole - part}[outcome]


def reading_chances(facts: DataFacts, beliefs: DataJobs, record: DataRecord) -> ReadingChances:
    """Chances beyond the board: what is known counts as known, the rest as believed and counted."""
    jobs = beliefs.belief_jobs
    believed = (beliefs.chips_share, beliefs.touch_share, beliefs.code_share)
    conditions: dict[Condition, float] = {}
    for condition, share, held, failed in zip(ASKED, believed, record.held, record.failed, strict=True):
        if condition in facts.not_known:
            conditions[condition] = (jobs * share + held) / (jobs + held + failed)
        else:
            conditions[condition] = 0.0 if condition in facts.ruled_out else 1.0
    whole, part, none = (
        (jobs * share + count) / (jobs + record.read)
        for share, count in zip(
            (beliefs.all_share, beliefs.part_share, 1.0 - beliefs.all_share - beliefs.part_share),
            record.outcomes,
            strict=True,
        )
    )
    return ReadingChances(conditions, (whole, part, none))
