"""Every error a user can meet, and how one is worded.

An input error carries all the faults of its file at once, each naming the
file, line, field, what was wrong and what is allowed.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches


@dataclass(frozen=True)
class Fault:
    """One thing wrong in one input; `line` is None where a file has no lines."""

    file: str
    line: int | None
    field: str
    wrong: str
    allowed: str

    def __str__(self) -> str:
        """One line: place, field, what is wrong, what is allowed."""
        place = self.file if self.line is None else f"{self.file}, line {self.line}"
        text = f"{place}, {self.field}: {self.wrong}"
        return f"{text}; allowed: {self.allowed}" if self.allowed else text


class TriageError(Exception):
    """Anything this program refuses to do, said in one message."""

    exit_code = 1


class InputError(TriageError):
    """A file or argument that cannot be used; lists every fault found."""

    exit_code = 2

    def __init__(self, faults: Iterable[Fault]):
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))


class CatalogueError(InputError):
    """A catalogue file that contradicts itself or the schema."""


class UnitFileError(InputError):
    """A device description that cannot be assessed."""


class LotFileError(InputError):
    """A file that is no lot at all; a bad row of a lot is set aside instead."""


class PriorFileError(InputError):
    """A prior file that does not fit the catalogue or the model."""


class BeliefError(InputError):
    """A stated belief that contradicts itself, or that no prior can hold."""


class SettingsError(InputError):
    """A settings or price file that cannot be used."""


class HistoryError(InputError):
    """A shop history that cannot be fitted."""


class EmptyRecordError(HistoryError):
    """A record in which no job is closed yet: there is nothing to learn from, and nothing wrong."""


class PosteriorError(TriageError):
    """Stored draws that are missing, truncated or do not match their manifest."""

    exit_code = 2


class StalePosteriorError(PosteriorError):
    """Stored draws that belong to another catalogue or prior set."""


class NotConvergedError(TriageError):
    """A fit that failed its gate; stored, never made current."""

    exit_code = 3


class NoQuoteError(TriageError):
    """A device that may not be taken in, or that no price covers."""


class DocumentError(TriageError):
    """A document that cannot be set or written."""


class ClusterError(TriageError):
    """Other machines cannot be used for the work."""


class PlanTooLargeError(TriageError):
    """A unit with more states than the exact plan can hold."""


class LotChoiceError(TriageError):
    """A choice from a lot that its limits do not allow, or that ownership forbids."""

    exit_code = 2


class BackupError(TriageError):
    """A backup of the whole shop that cannot be made, read or put back."""

    exit_code = 2


class LongWorkError(TriageError):
    """Work that cannot be begun, such as a second fit while one runs."""


class LedgerError(TriageError):
    """The shop's record cannot be opened, read or written."""


class LedgerVersionError(LedgerError):
    """A record written by a newer program than this one."""


class LedgerBusyError(LedgerError):
    """Somebody else is writing, and went on for too long; nothing was written."""


class LedgerConflictError(LedgerError):
    """The job was changed by somebody else since it was read; nothing was written."""


class DraftTakenError(LedgerConflictError):
    """The device became a job before; `job` is its id. Nothing was written."""

    def __init__(self, job: int):
        self.job = job
        super().__init__("this device is already a job; it cannot become a second one")


class JobRuleError(LedgerError):
    """An act that the rules of a job refuse; `refusals` says all the reasons."""

    def __init__(self, refusals: Iterable[str]):
        self.refusals = tuple(refusals)
        super().__init__("\n".join(self.refusals))


def nearest(word: str, known: Iterable[str]) -> str:
    """Return "; nearest known: x" for a mistyped word, or an empty string."""
    match = get_close_matches(word, list(known), n=1, cutoff=0.6)
    return f"; nearest known: {match[0]}" if match else ""
