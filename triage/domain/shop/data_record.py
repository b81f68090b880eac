"""How a shop's data jobs came out, counted: what its own record says of their chance."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from triage.domain.data_job import ASKED, CONDITIONS, DATA_OUTCOMES, DataEnded, DataFacts


@dataclass(frozen=True)
class DataRecord:
    """Counts of ended data jobs.

    outcomes : of those whose data could be read, (all, part, none).
    held, failed : where it was not known at the quote, (chips, touch, code). The board's chance is
        that of its repairs, which learn from attempts.
    """

    outcomes: tuple[int, int, int] = (0, 0, 0)
    held: tuple[int, int, int] = (0, 0, 0)
    failed: tuple[int, int, int] = (0, 0, 0)

    @property
    def read(self) -> int:
        """Jobs whose data could be read, whatever came of it."""
        return sum(self.outcomes)


def data_record(ended: Iterable[tuple[DataFacts, DataEnded]]) -> DataRecord:
    """Count ended data jobs.

    A job shows a condition only as far as it came: where the touch failed,
    chips and board held and nobody knows of the code. One that was stopped
    before anything showed counts nowhere.
    """
    outcomes, held, failed = [0] * 3, dict.fromkeys(ASKED, 0), dict.fromkeys(ASKED, 0)
    for facts, end in ended:
        read = end.outcome != "none" or end.failed_at == "reading"
        if not read and end.failed_at not in CONDITIONS:
            continue
        if read:
            outcomes[DATA_OUTCOMES.index(end.outcome)] += 1
        for condition in CONDITIONS:
            known = condition not in facts.not_known
            if not read and end.failed_at == condition:
                failed[condition] = failed.get(condition, 0) + (not known)
                break
            held[condition] = held.get(condition, 0) + (not known)
    whole, part, none = outcomes
    return DataRecord(
        (whole, part, none),
        (held["chips"], held["touch"], held["code"]),
        (failed["chips"], failed["touch"], failed["code"]),
    )
