"""A shop's past jobs as the models read them: one row per damage."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import date
from functools import cached_property

import pandas as pd

OUTCOMES = ("fixed", "not-fixed", "not-attempted")
WHY_NOT = ("job-stopped", "looked-hopeless", "owner-said-no", "no-part", "too-dear")
DATA_OUTCOMES = ("all", "part", "none")
COMEBACK_KINDS = ("same-fault", "our-damage", "dead-part", "new-damage", "no-fault-found")
# A comeback of one of these kinds is the shop's doing and feeds the hazard.
COMEBACK_COUNTS = ("same-fault", "our-damage", "dead-part")
KNOWN_AT = ("intake", "opening", "test")
LOOK_DEPTHS = ("opened", "board-out", "shields-off")
LOOK_REASONS = ("routine", "suspected")
ROUTES = ("bought", "walk-in")
ENDINGS = ("sold", "returned-fixed", "returned-unfixed", "stripped", "disposed")
# Endings by which nothing is handed over.
WRITTEN_OFF = ("stripped", "disposed")

REQUIRED = ("job", "date", "finding", "outcome")
PER_FINDING = (
    "zone", "severity", "minutes", "parts_cost", "book_cost", "why_not", "method", "known_at", "shelf_cost",
    "intake_severity",
)  # fmt: skip
PER_JOB = (
    "route", "tier", "cause", "technician", "paid", "sold", "sold_date", "closed", "hidden_faults",
    "comeback_date", "comeback_kind", "warranty_days", "working_price", "ending", "parts_value", "look_depth",
    "look_reason", "strip_minutes", "selling_fees", "parts_margin", "data_outcome", "data_minutes",
)  # fmt: skip


@dataclass(frozen=True)
class History:
    """Past jobs up to a cut-off date.

    rows : DataFrame, one row per damage, in file order. Columns are those of
        the plain history format; optional ones the file lacks are absent.
        `date`, `sold_date`, `closed`, `comeback_date` are datetime64; money
        columns are float, major units; `severity` is int (2 where blank);
        blank text is "".
    as_of : the cut-off; nothing after it is known.
    first : jobs taken in before this day were left out; None where none were.
    """

    rows: pd.DataFrame
    as_of: date
    first: date | None = None

    @cached_property
    def jobs(self) -> pd.DataFrame:
        """One row a job (index `job`, first-seen order): the per-job columns and `date`."""
        columns = ["date", *(name for name in PER_JOB if name in self.rows)]
        return self.rows.groupby("job", sort=False)[columns].first()

    @cached_property
    def digest(self) -> str:
        """Hash of the rows and the cut-off, for the manifest of a fit."""
        text = self.rows.to_csv(index=False) + self.as_of.isoformat()
        return hashlib.sha256(text.encode()).hexdigest()[:16]

    def since(self, day: date) -> History:
        """Return the jobs taken in on a day or after it; there may be none."""
        rows = self.rows[self.rows["date"] >= pd.Timestamp(day)].reset_index(drop=True)
        return History(rows, self.as_of, day)

    def as_seen_at_intake(self) -> History:
        """The same jobs with each finding's severity as it was graded at intake, where that is told."""
        if not self.has("severity", "intake_severity"):
            return self
        first = self.rows["intake_severity"]
        graded = first.where(first.notna(), self.rows["severity"]).astype(int)
        return History(self.rows.assign(severity=graded), self.as_of, self.first)

    def has(self, *columns: str) -> bool:
        """Whether every named optional column is there with at least one value."""
        return all(
            name in self.rows and bool((self.rows[name].notna() & (self.rows[name] != "")).any())
            for name in columns
        )
