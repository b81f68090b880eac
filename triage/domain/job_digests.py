"""What a history says of each job, as a short digest: equal where it says the same."""

from __future__ import annotations

import hashlib

import pandas as pd

from triage.domain.history import History


def job_digests(history: History) -> dict[str, str]:
    """Digest of each job's rows, by label.

    Blank cells count as absent, and so does the middle severity, which a blank
    one means: a column that others begin to use changes no job.
    """
    columns = [name for name in history.rows if name != "weight"]
    texts = {name: _cells(history.rows[name]) for name in columns}
    said: dict[str, list[str]] = {}
    for place, job in enumerate(history.rows["job"].astype(str)):
        cells = (f"{name}={texts[name][place]}" for name in columns if texts[name][place])
        said.setdefault(job, []).append("\t".join(sorted(cells)))
    return {job: hashlib.sha256("\n".join(rows).encode()).hexdigest()[:16] for job, rows in said.items()}


def _cells(column: pd.Series) -> list[str]:
    """Each cell as text, "" where it says nothing."""
    if pd.api.types.is_datetime64_any_dtype(column):
        return column.dt.strftime("%Y-%m-%d").fillna("").tolist()
    if pd.api.types.is_numeric_dtype(column):
        usual = "2.0" if column.name == "severity" else ""
        texts = ["" if pd.isna(value) else repr(float(value)) for value in column]
        return ["" if text == usual else text for text in texts]
    return column.fillna("").astype(str).tolist()
