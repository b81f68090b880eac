"""Which past jobs a set of assumptions was tuned on, so that no job is counted twice.

An assumption drawn from a job and a likelihood with the same job in it would count
it twice, and look surer than the record is.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

from triage.domain.history import History
from triage.domain.plain_files import plain_file
from triage.errors import Fault, HistoryError, PriorFileError

FILE = "tuned_on.json"
SCHEMA = 1


@dataclass(frozen=True)
class TunedJobs:
    """The jobs some assumptions of a set come from.

    jobs : their hashes, as `job_hashes` makes them. until : ISO date of the
        last day of the record they come from; "" where there are none.
    """

    jobs: frozenset[str] = frozenset()
    until: str = ""

    def __or__(self, other: TunedJobs) -> TunedJobs:
        """Both together."""
        return TunedJobs(self.jobs | other.jobs, max(self.until, other.until))

    @property
    def first_free_day(self) -> date | None:
        """First intake day that no job of these can have; None where there are none."""
        return date.fromisoformat(self.until) + timedelta(days=1) if self.jobs else None

    def text(self) -> str:
        """Write the file that lies beside the set's TOML files."""
        return json.dumps({"schema": SCHEMA, "until": self.until, "jobs": sorted(self.jobs)}, indent=1) + "\n"


def job_hashes(history: History) -> dict[str, str]:
    """SHA-256 of each job's label and day of intake, by label.

    Not of its outcomes, prices or dates of sale: a job corrected or sold since
    is still the same job.
    """
    days = history.jobs["date"]
    return {
        str(job): hashlib.sha256(f"{job}\n{day.date().isoformat()}".encode()).hexdigest()
        for job, day in days.items()
    }


def tuned_on(history: History) -> TunedJobs:
    """Every job of a history, as what assumptions were tuned on."""
    return TunedJobs(frozenset(job_hashes(history).values()), history.as_of.isoformat())


def refuse_double_use(history: History, tuned: TunedJobs) -> None:
    """Refuse a record that holds jobs the assumptions were tuned on.

    Raises
    ------
    HistoryError : how many, and the day to fit from.
    """
    if not tuned.jobs:
        return
    used = sum(digest in tuned.jobs for digest in job_hashes(history).values())
    if used:
        wrong = f"{used} of {len(history.jobs)} jobs are already in the beliefs, which were tuned on them"
        allowed = f"jobs taken in from {tuned.first_free_day} on (--from), or beliefs not tuned on them"
        raise HistoryError([Fault("history", None, "job", wrong, allowed)])


def read_tuned_jobs(folder: Path) -> TunedJobs:
    """Read what a set was tuned on; no file means nothing.

    Raises
    ------
    PriorFileError : the file is there and cannot be understood.
    """
    path = Path(folder) / FILE
    if not path.exists():
        return TunedJobs()
    try:
        held = json.loads(plain_file(path).read_text(encoding="utf-8"))
        if held["schema"] != SCHEMA or not isinstance(held["jobs"], list):
            raise ValueError(f"schema {held['schema']!r}")
        if not all(isinstance(job, str) for job in held["jobs"]):
            raise ValueError("a job is no text")
        until = date.fromisoformat(held["until"])
        until + timedelta(days=1)  # there is a first free day
        return TunedJobs(frozenset(held["jobs"]), until.isoformat())
    except (OSError, ValueError, KeyError, TypeError, OverflowError, RecursionError) as problem:
        wrong = f"cannot be understood ({problem})"
        allowed = "the file as `triage priors accept` wrote it"
        raise PriorFileError([Fault(str(path), None, "file", wrong, allowed)]) from problem
