"""What a history says of each job, as a short digest: equal where it says the same."""

from __future__ import annotations

import hashlib

import pandas as pd

from triage.domain.history import WRITTEN_OFF, History

# Of no account for what is learned, and a bill may be paid at any time.
UNREAD = (
    "paid", "weight", "parts_value", "shelf_cost", "intake_severity", "strip_minutes", "selling_fees",
    "parts_margin", "data_outcome", "data_minutes",
)  # fmt: skip


def job_digests(history: History) -> dict[str, str]:
    """Digest of each job's rows, by label.

    Blank cells count as absent, and so does the middle severity, which a blank
    one means: a column that others begin to use changes no job. What a walk-in
    has paid is not learned from, and its warranty, like any, counts once there is
    a day of sale: a history cut at an earlier day would tell it too soon.
    """
    rows = history.rows
    columns = [str(name) for name in rows if name not in UNREAD]
    texts = {name: _cells(rows[name]) for name in columns}
    kept = rows["sold_date"].isna() if "sold_date" in rows else pd.Series(True, rows.index)
    texts |= _without(texts, "warranty_days", kept)
    if "ending" in rows:  # all that is learned of it is that nothing was handed over
        texts |= _without(texts, "ending", ~rows["ending"].isin(WRITTEN_OFF))
    if "route" in rows:
        texts |= _without(texts, "sold", rows["route"] == "walk-in")
    if "parts_margin" in rows and "sold" in texts:  # parts go one by one, long after the device
        apart = rows["parts_margin"].notna()
        texts["sold"] = ["0.0" if told else text for told, text in zip(apart, texts["sold"], strict=True)]
    said: dict[str, list[str]] = {}
    for place, job in enumerate(rows["job"].astype(str)):
        cells = (f"{name}={texts[name][place]}" for name in columns if texts[name][place])
        said.setdefault(job, []).append("\t".join(sorted(cells)))
    return {job: hashlib.sha256("\n".join(told).encode()).hexdigest()[:16] for job, told in said.items()}


def _without(texts: dict[str, list[str]], name: str, blank: pd.Series) -> dict[str, list[str]]:
    """A column with some of its cells blank; nothing where there is no such column."""
    if name not in texts:
        return {}
    return {name: ["" if off else text for off, text in zip(blank, texts[name], strict=True)]}


def _cells(column: pd.Series) -> list[str]:
    """Each cell as text, "" where it says nothing."""
    if pd.api.types.is_datetime64_any_dtype(column):
        return [str(text) for text in column.dt.strftime("%Y-%m-%d").fillna("")]
    if pd.api.types.is_numeric_dtype(column):
        usual = "2.0" if column.name == "severity" else ""
        texts = ["" if pd.isna(value) else repr(float(value)) for value in column]
        return ["" if text == usual else text for text in texts]
    return column.fillna("").astype(str).tolist()
