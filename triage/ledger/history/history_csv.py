"""The plain history format: one CSV row a finding, read strictly, all faults at once."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path

import pandas as pd

from triage.domain.catalogue import Catalogue
from triage.domain.history import PER_JOB, History
from triage.domain.plain_files import plain_file
from triage.errors import Fault, HistoryError
from triage.ledger.history.history_cells import DATES, NUMBERS, Cells, Row, read_cells, split_csv

# Known only once it happened: blanked when it lies after the cut-off.
_LATER = (
    (
        "sold_date",
        ("sold_date", "sold", "ending", "parts_value", "strip_minutes", "selling_fees", "parts_margin"),
    ),
    ("comeback_date", ("comeback_date", "comeback_kind")),
)


def read_history(path: Path, catalogue: Catalogue, as_of: date | None = None) -> History:
    """Read a shop's past jobs.

    Parameters
    ----------
    catalogue : whose slugs `finding`, `hidden_faults`, `method` and `zone` use;
        methods and zones are free text where the catalogue names none.
    as_of : cut-off; the last date in the file when None. Jobs taken in after
        it, or closed after it, are left out, and so are later sales and
        comebacks.

    Raises
    ------
    HistoryError : every fault of the file, with line and column.
    """
    try:
        text = plain_file(path).read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as problem:
        wrong = getattr(problem, "strerror", None) or "is not UTF-8 text"
        raise HistoryError([Fault(str(path), None, "file", wrong, "a readable CSV file")]) from problem
    return parse_history(text, str(path), catalogue, as_of)


def parse_history(text: str, name: str, catalogue: Catalogue, as_of: date | None = None) -> History:
    """Read a history from text; `name` is what faults call the file."""
    header, rows, faults = split_csv(text, name)
    return history_from(header, rows, name, catalogue, as_of, faults)


def history_from(
    header: list[str],
    rows: Sequence[Row],
    name: str,
    catalogue: Catalogue,
    as_of: date | None = None,
    faults: Sequence[Fault] = (),
) -> History:
    """Check rows of cells, and cut them off; `faults` are those found before."""
    cells, found = read_cells(header, rows, name, catalogue)
    if faults or found:
        raise HistoryError(sorted((*faults, *found), key=lambda fault: fault.line or 0))
    return _cut(_frame(cells), name, as_of)


def _frame(cells: Cells) -> pd.DataFrame:
    frame, header = pd.DataFrame(cells.values), cells.header
    for column in header:
        if column in DATES:
            frame[column] = pd.to_datetime(frame[column])
        elif column in NUMBERS:
            frame[column] = frame[column].astype(float)
    # A per-job value may stand on one row of its job only; all rows get it.
    for column in header:
        if column in PER_JOB:
            blank = frame[column].isna() | (frame[column] == "")
            known = frame[~blank].groupby("job")[column].first()
            if blank.any() and not known.empty:
                frame[column] = frame[column].where(~blank, frame["job"].map(known))
            if column not in DATES and column not in NUMBERS:
                frame[column] = frame[column].fillna("")
    return frame


def known_at(history: History, day: date) -> History:
    """What of a history was known at the end of a day: the jobs closed by then, and their fate so far.

    A job without a `closed` date counts as closed on the day of its intake.

    Raises
    ------
    HistoryError : no job was taken in and closed by that day.
    """
    return _cut(history.rows, "the history", day)


def _cut(frame: pd.DataFrame, name: str, as_of: date | None) -> History:
    """Leave out what was not known at the cut-off."""
    last = max(frame[column].max() for column in DATES if column in frame and frame[column].notna().any())
    limit = last if as_of is None else pd.Timestamp(as_of)
    keep = frame["date"] <= limit
    if "closed" in frame:
        keep &= ~(frame["closed"] > limit)
    frame = frame[keep].reset_index(drop=True)
    if frame.empty:
        wrong = f"no job was received by {limit.date().isoformat()}"
        raise HistoryError([Fault(name, None, "date", wrong, "an as-of date after the first job")])
    for column, known_with in _LATER:
        if column in frame:
            later = frame[column] > limit
            for other in known_with:
                if other in frame:
                    blank = pd.NaT if other in DATES else (float("nan") if other in NUMBERS else "")
                    frame.loc[later, other] = blank
    return History(frame, limit.date())
