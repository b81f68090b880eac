"""From records to indices: which effects touch which attempt.

An attempt is one repair done within a job. The same encoding serves fitting
and prediction, so that a label means the same effect in both.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal

import numpy as np
import pandas as pd

from triage.domain.catalogue import Catalogue
from triage.domain.history import History
from triage.domain.periods import period_ends, period_of
from triage.domain.tries import finding_of, tries_of

Hopeless = Literal["missing", "failed"]
SEVERITIES = ("1", "2", "3")
FACTORS = ("tier", "technician", "cause")
_COLUMNS = ["job", "date", "kind", "severity", *FACTORS, "method", "row", "fixed", "rows", "after"]


@dataclass(frozen=True)
class AttemptIndices:
    """Index of each row's level in each effect, shape (row,); -1 where none applies.

    again : 1 where another method has failed on the same finding before, else 0.
    period : stretch of the record's time (`triage.domain.periods`).
    """

    kind: np.ndarray
    severity: np.ndarray
    tier: np.ndarray
    technician: np.ndarray
    cause: np.ndarray
    method: np.ndarray
    again: np.ndarray
    period: np.ndarray

    @cached_property
    def table(self) -> np.ndarray:
        """All indices side by side, shape (row, 8), in field order."""
        return np.column_stack([getattr(self, name) for name in self.__dataclass_fields__])


@dataclass(frozen=True)
class AttemptLevels:
    """The levels every effect has.

    coords : labels by dimension: `kind` (all of the catalogue's), `family`,
        `severity`, and those of `tier`, `technician`, `cause`, `method` that
        have an effect at all; `period`, where the record covers several.
    family : ndarray of int, shape (kind,), the family of each kind.
    usual : by kind, its usual method, which has no effect of its own.
    """

    coords: dict[str, tuple[str, ...]]
    family: np.ndarray
    usual: dict[str, str]

    def indices(
        self,
        kind: Sequence[str],
        severity: Sequence[int],
        tier: Sequence[str] | None = None,
        technician: Sequence[str] | None = None,
        cause: Sequence[str] | None = None,
        method: Sequence[str] | None = None,
        again: Sequence[bool] | None = None,
        date: Sequence[pd.Timestamp] | None = None,
    ) -> AttemptIndices:
        """Encode rows of labels; a blank or unheard-of label of a factor has no index.

        Without `again` every row is a first try; without `date` it is in the record's last period.

        Raises
        ------
        KeyError : a kind that is not among the levels.
        """
        count = len(kind)
        place = {label: index for index, label in enumerate(self.coords["kind"])}
        given = {"tier": tier, "technician": technician, "cause": cause}
        methods = [""] * count if method is None else method
        ends = self.coords.get("period", ())
        period = np.full(count, len(ends) - 1) if date is None or not ends else period_of(date, ends)
        other = ["" if m == self.usual.get(k) else m for k, m in zip(kind, methods, strict=True)]
        return AttemptIndices(
            kind=np.array([place[label] for label in kind], dtype=np.intp),
            severity=np.asarray(severity, dtype=np.intp) - 1,
            method=self._places("method", other),
            again=np.asarray([False] * count if again is None else again, dtype=np.intp),
            period=period.astype(np.intp),
            **{name: self._places(name, given[name] or [""] * count) for name in FACTORS},
        )

    def _places(self, name: str, labels: Sequence[str]) -> np.ndarray:
        place = {label: index for index, label in enumerate(self.coords.get(name, ()))}
        return np.array([place.get(label, -1) for label in labels], dtype=np.intp)


@dataclass(frozen=True)
class AttemptPatterns:
    """Jobs with equal contents, counted once: the unit of the integrated likelihood.

    The attempts of all patterns lie one after the other.

    cells : AttemptIndices of the distinct attempts, shape (cell,).
    cell : ndarray of int, shape (item,), which of the distinct attempts.
    fixed : ndarray of bool, shape (item,), its outcome.
    start : ndarray of int, shape (pattern + 1,), where each pattern's items begin.
    count : ndarray, shape (pattern,), jobs with that pattern, or the sum of their weights.
    job_pattern : ndarray of int, shape (job,), each job's pattern.
    """

    cells: AttemptIndices
    cell: np.ndarray
    fixed: np.ndarray
    start: np.ndarray
    count: np.ndarray
    job_pattern: np.ndarray

    @cached_property
    def size(self) -> np.ndarray:
        """Attempts in each pattern, shape (pattern,)."""
        return np.diff(self.start)

    @cached_property
    def single_outcomes(self) -> np.ndarray:
        """Successes and failures of the jobs of one attempt, by distinct attempt, shape (2, cell)."""
        alone = self.size == 1
        cell, fixed = self.cell[self.start[:-1][alone]], self.fixed[self.start[:-1][alone]]
        found = np.zeros((2, len(self.cells.kind)))
        np.add.at(found, (np.where(fixed, 0, 1), cell), self.count[alone])
        return found


@dataclass(frozen=True)
class AttemptDesign:
    """Attempts of a history, encoded.

    levels : what the indices mean.
    attempts : DataFrame as made by `attempts`, one row an attempt.
    indices : AttemptIndices, shape (row,).
    job : ndarray of int, shape (row,), index into `jobs`.
    jobs : labels of the jobs that hold an attempt.
    fixed : ndarray of bool, shape (row,).
    after : ndarray of int, shape (row,), row of the failed attempt at the same
        finding by another method that this one follows, or -1.
    weight : ndarray, shape (job,), what each job's likelihood is raised to: 1,
        or less in a history that `forgetting` has weighted.
    """

    levels: AttemptLevels
    attempts: pd.DataFrame
    indices: AttemptIndices
    job: np.ndarray
    jobs: tuple[str, ...]
    fixed: np.ndarray
    after: np.ndarray
    weight: np.ndarray

    @property
    def coords(self) -> dict[str, tuple[str, ...]]:
        """Labels by dimension."""
        return self.levels.coords

    @cached_property
    def patterns(self) -> AttemptPatterns:
        """The distinct jobs, with counts."""
        return _patterns(self)


def attempts(history: History, catalogue: Catalogue, hopeless: Hopeless = "missing") -> pd.DataFrame:
    """Gather the rows of a history into attempts.

    Rows of one job that share a method closing several kinds are one attempt;
    it is fixed when all its findings are, and it stands under the kind that
    comes first in the method's `closes`. Work done again by the same method is
    one attempt, with the last outcome (`triage.domain.tries`). Rows not
    attempted are left out, except, with `hopeless="failed"`, those that looked
    hopeless, which count as not fixed.

    Returns
    -------
    DataFrame : columns `job`, `date`, `kind`, `severity`, `tier`, `technician`,
        `cause`, `method` (blank text where unknown), `fixed`, `row` (index of
        the leading row in `history.rows`), `rows` (tuple, all of them), and
        `after` (position here of the failed attempt it follows, or -1).
    """
    rows = history.rows
    done = rows["outcome"] != "not-attempted"
    if hopeless == "failed" and "why_not" in rows:
        done |= rows["why_not"] == "looked-hopeless"
    rows = rows[done]
    table = pd.DataFrame(
        {"job": rows["job"].astype(str), "date": rows["date"], "kind": rows["finding"], "row": rows.index}
    )
    for name in (*FACTORS, "method", "zone"):
        table[name] = rows[name].fillna("") if name in rows else ""
    table["severity"] = rows["severity"] if "severity" in rows else 2
    table["fixed"] = rows["outcome"] == "fixed"
    several = {repair.slug: repair.closes for repair in catalogue.repair if len(repair.closes) > 1}
    gathered: list[dict[str, Any]] = []
    failed: dict[tuple[str, str, str], tuple[int, str]] = {}
    for made in tries_of(table.to_dict("records"), several):
        order = {kind: place for place, kind in enumerate(several.get(made.method, ()))}
        lead = min(made.entries, key=lambda entry: order.get(entry["kind"], len(order)))
        earlier, method = failed.get(finding_of(lead), (-1, ""))
        follows = earlier >= 0 and "" not in (method, made.method)
        if not made.fixed:
            for entry in made.entries:
                failed[finding_of(entry)] = (len(gathered), made.method)
        gathered.append(
            {
                **{name: lead[name] for name in ("job", "date", "kind", "severity", *FACTORS, "row")},
                "method": made.method,
                "fixed": made.fixed,
                "rows": tuple(entry["row"] for entry in made.entries),
                "after": earlier if follows else -1,
            }
        )
    return pd.DataFrame(gathered, columns=_COLUMNS)


def attempt_levels(catalogue: Catalogue, table: pd.DataFrame) -> AttemptLevels:
    """Levels of every effect: all kinds of the catalogue, and the factors the attempts have.

    A factor with fewer than two levels in the record has no effect. Methods
    are every repair that is not the usual one of some kind; where the
    catalogue names no repair for a kind, its commonest recorded method is the
    usual one.
    """
    kinds = tuple(catalogue.kinds)
    families = tuple(dict.fromkeys(kind.family for kind in catalogue.kind))
    coords = {"kind": kinds, "family": families, "severity": SEVERITIES}
    for name in FACTORS:
        found = sorted(set(table[name]) - {""})
        if len(found) > 1:
            coords[name] = tuple(found)
    usual = {kind: catalogue.usual_method(kind) for kind in kinds}
    for kind, methods in table[table["method"] != ""].groupby("kind")["method"]:
        usual[str(kind)] = usual[str(kind)] or str(methods.mode()[0])
    periods = period_ends(table["date"].tolist())
    if len(periods) > 1:
        coords["period"] = periods
    others = {repair.slug for kind in kinds for repair in catalogue.repairs_for(kind)[1:]}
    others |= {m for k, m in zip(table["kind"], table["method"], strict=True) if m and m != usual[k]}
    if others:
        coords["method"] = tuple(sorted(others))
    place = {slug: index for index, slug in enumerate(families)}
    family = np.array([place[catalogue.kinds[kind].family] for kind in kinds], dtype=np.intp)
    return AttemptLevels(coords, family, usual)


def attempt_labels(table: pd.DataFrame) -> Iterator[Any]:
    """Yield what `AttemptLevels.indices` takes, in its order, of attempts as made by `attempts`."""
    for name in ("kind", "severity", *FACTORS, "method"):
        yield table[name].tolist()
    yield (table["after"] >= 0).tolist()
    yield table["date"].tolist() if "date" in table else None


def attempt_design(
    history: History | None, catalogue: Catalogue, hopeless: Hopeless = "missing"
) -> AttemptDesign:
    """Encode a history's attempts; None gives the same design with no rows."""
    table = _NONE if history is None else attempts(history, catalogue, hopeless)
    levels = attempt_levels(catalogue, table)
    indices = levels.indices(*attempt_labels(table))
    job, jobs = pd.factorize(table["job"])
    return AttemptDesign(
        levels=levels,
        attempts=table,
        indices=indices,
        job=job.astype(np.intp),
        jobs=tuple(jobs),
        fixed=table["fixed"].to_numpy(dtype=bool),
        after=table["after"].to_numpy(dtype=np.intp),
        weight=_weights(history, list(jobs)),
    )


def forgetting(history: History, half_life: float, kinds: Collection[str] | None = None) -> History:
    """Weight the jobs of a history by age: half for one taken in `half_life` days before its end.

    The success model raises each job's likelihood to its weight (a power
    prior over the past: Ibrahim and Chen 2000, from memory), so that old jobs
    count for less and none is dropped. Other models do not read the weight.

    Parameters
    ----------
    kinds : only jobs with a finding of these are weighted; all jobs when None.
    """
    rows = history.rows
    age = (pd.Timestamp(history.as_of) - rows["date"]).dt.days.clip(lower=0)
    weight = 0.5 ** (age / half_life)
    if kinds is not None:
        weight = weight.where(rows["job"].isin(rows["job"][rows["finding"].isin(list(kinds))]), 1.0)
    return History(rows.assign(weight=weight), history.as_of)


def _weights(history: History | None, jobs: list[str]) -> np.ndarray:
    if history is None or "weight" not in history.rows:
        return np.ones(len(jobs))
    weight = history.rows["weight"].groupby(history.rows["job"].astype(str)).first()
    return weight.reindex(jobs).to_numpy(float)


_NONE = pd.DataFrame(
    {
        name: []
        for name in ("job", "date", "kind", "severity", *FACTORS, "method", "row", "fixed", "rows", "after")
    }
)


def _patterns(design: AttemptDesign) -> AttemptPatterns:
    table, cell_of = np.unique(design.indices.table, axis=0, return_inverse=True)
    cells = AttemptIndices(*table.T)
    within: list[list[int]] = [[] for _ in design.jobs]
    for row, job in enumerate(design.job):
        within[job].append(row)
    # Sorted, so that equal jobs compare equal whatever the order of their rows.
    found: dict[tuple, float] = {}
    job_key = []
    for rows, weight in zip(within, design.weight.tolist(), strict=True):
        key = tuple(sorted((int(cell_of[row]), bool(design.fixed[row])) for row in rows))
        found[key] = found.get(key, 0.0) + weight
        job_key.append(key)
    number = {key: index for index, key in enumerate(found)}
    items = [item for key in found for item in key]
    return AttemptPatterns(
        cells=cells,
        cell=np.array([item[0] for item in items], dtype=np.intp),
        fixed=np.array([item[1] for item in items], dtype=bool),
        start=np.cumsum([0, *(len(key) for key in found)]).astype(np.intp),
        count=np.array(list(found.values()), dtype=float),
        job_pattern=np.array([number[key] for key in job_key], dtype=np.intp),
    )
