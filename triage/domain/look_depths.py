"""How deep each past job was opened: only down to there does a look say what is not in a device.

Where a record does not say, it is the deepest access of the work that was done.
Work on damage that came to light on opening does not count: a device whose
hidden fault was found is opened deep to repair it, one without it is not, and
counting both would find the fault in every device opened deep. Work that was
called for and not done counts only where the fault was found: it is often why
the work ended.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass

from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import ACCESS_LEVELS
from triage.domain.history import History

_OPENED = ACCESS_LEVELS.index("opened")


@dataclass(frozen=True)
class JobDepth:
    """Access levels of one job that was opened.

    done : of the look as stated, and of work done on damage known at intake.
    called_for : of that, and of work on damage known at intake that was not done.
    """

    done: int = _OPENED
    called_for: int = _OPENED

    def reached(self, found: bool) -> int:
        """Level down to which the device was seen, where a fault was found there or not."""
        return self.called_for if found else self.done


def job_depths(history: History, catalogue: Catalogue) -> dict[Hashable, JobDepth]:
    """By job, how deep it was opened, had it been opened at all."""
    done: dict[Hashable, int] = {}
    called_for: dict[Hashable, int] = {}
    rows = history.rows
    blank = [""] * len(rows)
    known, method = (rows[name] if name in rows else blank for name in ("known_at", "method"))
    for job, kind, outcome, known_at, by in zip(
        rows["job"], rows["finding"], rows["outcome"], known, method, strict=True
    ):
        level = _OPENED
        repair = catalogue.repairs.get(by or catalogue.usual_method(kind))
        if repair is not None and known_at in ("intake", ""):
            level = max(level, ACCESS_LEVELS.index(repair.access))
        called_for[job] = max(called_for.get(job, _OPENED), level)
        if outcome != "not-attempted":
            done[job] = max(done.get(job, _OPENED), level)
    if "look_depth" in rows:
        for job, depth in history.jobs["look_depth"].items():
            if depth:
                done[job] = max(done.get(job, _OPENED), ACCESS_LEVELS.index(depth))
    return {
        job: JobDepth(done.get(job, _OPENED), max(level, done.get(job, _OPENED)))
        for job, level in called_for.items()
    }
