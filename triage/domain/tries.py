"""Tries at a finding: which rows of a job are one try, and how the finding ended.

A finding is named by its job, kind and zone; its rows are in order of time. Work
that fails the final check and is done again by the same method is one try with
one outcome, the last one. A blank method is that of the row before or after it.
Another method begins another try, and shows that the one before did not hold.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

Key = tuple[Any, ...]


@dataclass(frozen=True)
class Try:
    """Rows of one try in their order, its method ("" where no row names one), and whether it held."""

    entries: tuple[Mapping[Any, Any], ...]
    method: str
    fixed: bool


def finding_of(entry: Mapping[Any, Any]) -> Key:
    """What a row is about: job, kind, zone."""
    return entry["job"], entry["kind"], entry["zone"]


def tries_of(entries: Sequence[Mapping[Any, Any]], shared: Collection[str]) -> list[Try]:
    """Gather rows into tries, in order of their last row.

    Parameters
    ----------
    entries : rows worked on, in order: `job`, `kind`, `zone`, `method`, `fixed`, `row`.
    shared : methods that close several kinds; a job's rows by one of them are one try.
    """
    groups: dict[Key, list[Mapping[Any, Any]]] = {}
    method_of: dict[Key, str] = {}
    used: dict[Key, list[Key]] = {}
    for place, entry in enumerate(entries):
        method, before = entry["method"], used.setdefault(finding_of(entry), [])
        same = next((key for key in before if method_of[key] == method), None)
        if not method and before:
            same = before[-1]
        key: Key = (entry["job"], method) if method in shared else same or (entry["job"], method, place)
        if same is None and before and not method_of[before[-1]]:
            groups[key] = groups.pop(before.pop()) + groups.get(key, [])
        groups.setdefault(key, []).append(entry)
        method_of[key] = method or method_of.get(key, "")
        if key not in before:
            before.append(key)
    # Work that closes several findings can only have followed what failed on any of them.
    made = [(key, sorted(rows, key=lambda entry: entry["row"])) for key, rows in groups.items()]
    made.sort(key=lambda one: one[1][-1]["row"])
    last = {finding_of(entry): place for place, (_, rows) in enumerate(made) for entry in rows}
    found = []
    for place, (key, rows) in enumerate(made):
        ends = {
            finding_of(entry): bool(entry["fixed"]) and last[finding_of(entry)] == place for entry in rows
        }
        found.append(Try(tuple(rows), method_of[key], all(ends.values())))
    return found


def fixed_in_the_end(rows: pd.DataFrame) -> pd.Series:
    """Whether the finding of each row of a history was fixed by its last try, shape (row,)."""
    tried = rows["outcome"] != "not-attempted"
    told = (rows["outcome"] == "fixed").astype(float).where(tried)
    where = [rows[name] for name in ("job", "finding", "zone") if name in rows]
    return told.groupby(where, dropna=False, sort=False).transform("last") == 1
