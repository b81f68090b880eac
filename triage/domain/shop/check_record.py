"""How a shop's jobs with one check came out: its result, and what was then found."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class CheckRecord:
    """Counts of past jobs with one check, by its result and what was found.

    positive_present, positive_absent, negative_present, negative_absent : verified
        jobs: the result was "fault found" (positive) or "clear", and the fault was
        there or not. positive_unseen, negative_unseen : jobs that never showed it.
    """

    positive_present: int = 0
    positive_absent: int = 0
    negative_present: int = 0
    negative_absent: int = 0
    positive_unseen: int = 0
    negative_unseen: int = 0

    @property
    def jobs(self) -> int:
        """All jobs with the check."""
        return sum(vars(self).values())

    @property
    def verified(self) -> int:
        """Jobs that showed whether the fault was there."""
        return self.jobs - self.positive_unseen - self.negative_unseen
