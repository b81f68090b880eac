"""Past jobs of a file in the plain history format, as records of the shop's own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, cast

from triage.domain.data_job import DataEnded, DataOutcome
from triage.domain.history import PER_JOB
from triage.domain.job.life import ENDED, JobMove, JobRoute, JobState, moves_from
from triage.domain.job.records import (
    Attempt,
    Comeback,
    ComebackKind,
    FoundDamage,
    Grade,
    HandOver,
    Intake,
    KnownAt,
    LookDepth,
    LookedInside,
    Moved,
    Outcome,
    Payment,
)
from triage.domain.money import minor_digits
from triage.domain.shop.shelf import PartLeft
from triage.ledger.history.history_cells import MONEY, Cells
from triage.ledger.history.history_rows import content_key, money_cell, number_cell

_END_BY: dict[str, JobMove] = {
    "sold": "sell", "returned-fixed": "return-fixed", "returned-unfixed": "return-unfixed",
    "stripped": "strip", "disposed": "dispose",
}  # fmt: skip


@dataclass(frozen=True)
class PastJob:
    """A job of a file, as it will be kept.

    line : of its first row. key : its label and a hash of what its cells say,
    whatever their spelling. records : in order of time, without the intake.
    """

    label: str
    line: int | None
    route: JobRoute
    key: str
    intake: Intake
    records: tuple[Any, ...]


def past_jobs(cells: Cells, currency: str, source: str) -> list[PastJob]:
    """Records of every job of a file without faults, in the order jobs are first met.

    A file that has no `closed` column tells of jobs that are all over. One
    that has it, and leaves it blank for a job without a sale, tells of a job
    still at work. What a record needs and the file leaves blank is filled in
    and named in `Intake.not_told`, so that it stays blank on the way out.
    """
    jobs: dict[str, list[int]] = {}
    for place, label in enumerate(cells.values["job"]):
        jobs.setdefault(label, []).append(place)
    text = {
        column: [_cell(column, value, currency) for value in values]
        for column, values in cells.values.items()
    }
    # The format reads a blank severity as 2; the cell itself stays blank.
    for column in {"severity"} & set(text):
        text[column] = [row.cells[column] for row in cells.rows]
    return [
        _past_job(
            label,
            [{column: text[column][place] for column in text} for place in places],
            cells.rows[places[0]].line,
            currency,
            source,
        )
        for label, places in jobs.items()
    ]


def _past_job(
    label: str, rows: Sequence[Mapping[str, str]], line: int | None, currency: str, source: str
) -> PastJob:
    shared = {
        column: next((row[column] for row in rows if row.get(column)), "")
        for column in ("job", "date", *PER_JOB)
    }
    rows = [{**row, **{column: text for column, text in shared.items() if column in row}} for row in rows]
    filler = _Filler(shared, rows)
    intake = Intake(
        on=filler.taken_in,
        description="",
        tier=shared["tier"],
        cause=shared["cause"],
        technician=shared["technician"],
        working_price_minor=_minor(shared["working_price"], currency),
        imported_from=source,
        not_told=";".join(filler.not_told),
    )
    records: list[Any] = []
    _add_work(records, rows, currency)
    _add_money_cell(records, shared, filler, currency)
    if shared["data_outcome"]:
        outcome = cast(DataOutcome, shared["data_outcome"])
        saving = float(shared["data_minutes"]) if shared["data_minutes"] else None
        records.append(DataEnded(filler.left, outcome, minutes=saving))
    minutes = float(shared["strip_minutes"]) if shared["strip_minutes"] else None
    records += filler.moves(shared, _minor(shared["parts_value"], currency), minutes)
    return PastJob(label, line, filler.route, content_key(label, rows), intake, tuple(records))


def _add_work(records: list[Any], rows: Sequence[Mapping[str, str]], currency: str) -> None:
    """Findings, each before its tries. One named again with another place is a finding of its own.

    The words in the cells were checked when the file was read (`history_cells.cell_readers`).
    """
    seen: dict[str, FoundDamage] = {}
    for row in rows:
        found = FoundDamage(
            row["finding"],
            int(row.get("severity") or 2),
            row.get("zone", ""),
            known_at=cast(KnownAt, row.get("known_at") or "intake"),
            intake_severity=int(row["intake_severity"]) if row.get("intake_severity") else None,
        )
        if seen.get(found.kind) != found:
            records.append(found)
            seen[found.kind] = found
        records.append(
            Attempt(
                row["finding"],
                cast(Outcome, row["outcome"]),
                row.get("method", ""),
                row.get("why_not", ""),
                float(row["minutes"]) if row.get("minutes") else None,
                _minor(row.get("parts_cost", ""), currency),
                _minor(row.get("book_cost", ""), currency),
                shelf_minor=_minor(row.get("shelf_cost", ""), currency),
            )
        )


def _add_money_cell(records: list[Any], shared: Mapping[str, str], filler: _Filler, currency: str) -> None:
    if shared["hidden_faults"]:
        found = "" if shared["hidden_faults"] == "none" else shared["hidden_faults"]
        depth = cast(LookDepth, shared["look_depth"] or None)
        why = shared["look_reason"]
        records.append(LookedInside(found, depth, why == "suspected" if why else None))
    if (paid := _minor(shared["paid"], currency)) is not None:
        records.append(Payment("purchase", -paid, filler.taken_in))
    sold, apart = _minor(shared["sold"], currency), _minor(shared["parts_margin"], currency)
    if sold is not None and apart is not None:
        fees = _minor(shared["selling_fees"], currency) or 0
        records.append(PartLeft("sold", filler.left, None, "", sold, fees, sold - apart))
    elif sold is not None:
        records.append(Payment("repair" if filler.route == "walk-in" else "sale", sold, filler.left))
    if shared["sold_date"] or shared["warranty_days"]:
        days = int(float(shared["warranty_days"] or 0))
        records.append(HandOver(filler.left, filler.grade, warranty_days=days))


class _Filler:
    """What a job's record needs besides what the file says of it, and which columns that fills."""

    def __init__(self, shared: Mapping[str, str], rows: Sequence[Mapping[str, str]]):
        says = set(rows[0])
        day = {name: _day(shared[name]) for name in ("closed", "sold_date", "comeback_date")}
        comeback = bool(shared["comeback_kind"] or day["comeback_date"])
        known = day["closed"] or day["sold_date"] or day["comeback_date"]
        self.ending = shared["ending"]
        over = bool(known or comeback or self.ending or "closed" not in says)
        self.taken_in = date.fromisoformat(shared["date"])
        self.done: date | None = (known or self.taken_in) if over else None
        self.left: date = day["sold_date"] or self.done or self.taken_in
        self.gone = over and bool(day["sold_date"] or comeback or self.ending or "sold_date" not in says)
        self.came_back = (day["comeback_date"] or self.left) if comeback else None
        owners = shared["route"] == "walk-in" or self.ending.startswith("returned")
        self.route: JobRoute = "walk-in" if owners else "bought"
        last = {row["finding"]: row["outcome"] for row in rows}
        fixed = [outcome == "fixed" for outcome in last.values()]
        self.unpaid = shared["sold"] != "" and not float(shared["sold"])
        self.unfixed = self.unpaid or not any(fixed)
        self.grade: Grade = "unfixed" if self.unfixed else "working" if all(fixed) else "downgraded"
        filled = {
            "route": not shared["route"],
            "ending": self.gone and not self.ending,
            "closed": not day["closed"] and over,
            "severity": not any(row.get("severity") for row in rows),
            "known_at": not any(row.get("known_at") for row in rows),
            "sold_date": not day["sold_date"] and shared["warranty_days"],
            "warranty_days": day["sold_date"] and not shared["warranty_days"],
            "comeback_date": comeback and not day["comeback_date"],
            "comeback_kind": comeback and not shared["comeback_kind"],
        }
        self.not_told = [column for column, needed in filled.items() if needed]

    def moves(self, shared: Mapping[str, str], worth_minor: int | None, minutes: float | None) -> list[Any]:
        """The moves of the job's life, and its comeback.

        worth_minor : of the parts that were kept. minutes : of stripping.
        """
        life: list[tuple[JobMove, date]] = [("take", self.taken_in), ("start", self.taken_in)]
        if self.done:
            life += [("verify", self.done), ("make-ready", self.done)]
        if self.gone:
            end = self._end()
            if self.route == "walk-in" and end in ("sell", "dispose"):
                life.append(("leave-uncollected", self.left))
            life.append((end, self.left))
        records: list[Any] = []
        state: JobState = "considered"
        for move, on in life:
            state = moves_from(state, self.route)[move]
            told = (worth_minor, minutes) if state in ENDED else (None, None)
            records.append(Moved(move, state, on, None, "", *told))
        if self.came_back:
            # What was done about it, the format does not say.
            kind = cast(ComebackKind, shared["comeback_kind"] or "no-fault-found")
            records.append(Comeback(self.came_back, kind, "not-told"))
            for move in ("come-back", "send-back"):
                state = moves_from(state, self.route)[move]
                records.append(Moved(move, state, self.came_back))
        return records

    def _end(self) -> JobMove:
        if self.ending:
            return _END_BY[self.ending]
        if self.route == "walk-in":
            return "return-unfixed" if self.unfixed else "return-fixed"
        return "dispose" if self.unpaid and not self.came_back else "sell"


def _cell(column: str, value: Any, currency: str) -> str:
    """Write a value as the record writes it."""
    if isinstance(value, str):
        return value
    if value != value:  # NaN and NaT
        return ""
    if column in MONEY:
        return money_cell(_minor(repr(value), currency), currency)
    return number_cell(value) if isinstance(value, float | int) else value.date().isoformat()


def _minor(text: str, currency: str) -> int | None:
    """Minor units of an amount in major units; whole by the importer's own check."""
    return int(Decimal(text).scaleb(minor_digits(currency)).to_integral_value()) if text else None


def _day(text: str) -> date | None:
    return date.fromisoformat(text) if text else None
