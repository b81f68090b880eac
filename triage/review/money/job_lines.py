"""The jobs behind one row of the money review, each with its money line by line."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from triage.domain.catalogue import Catalogue
from triage.domain.history import History
from triage.domain.shop.settings import Settings
from triage.review.money.money_review import MoneyGroup
from triage.review.money.realised_margin import realised_margins


@dataclass(frozen=True)
class JobLine:
    """One job. Money in major units, costs positive; None where the job's money is not whole.

    on : day it came in. route : "" where the record does not say. findings :
    (name of the damage, what came of it). sold, and what parts put on the shelf
    are worth (kept), less all the others is `margin`.
    """

    label: str
    on: date
    route: str
    findings: tuple[tuple[str, str], ...]
    margin: float | None = None
    sold: float | None = None
    paid: float | None = None
    parts: float | None = None
    labour: float | None = None
    fees: float | None = None
    tax: float | None = None
    comeback: float | None = None
    kept: float | None = None


COSTS = ("paid", "parts", "labour", "fees", "tax", "comeback")


def job_lines(
    group: MoneyGroup, history: History, catalogue: Catalogue, settings: Settings
) -> tuple[JobLine, ...]:
    """Lines of a group's jobs in the group's own order: the worst first, technicians' by label."""
    money = realised_margins(history, catalogue, settings).money
    jobs = history.jobs
    days = jobs["date"].dt.date.to_dict()
    routes = jobs["route"].to_dict() if "route" in jobs else {}
    columns = ("margin", "sold", "kept", *COSTS)
    amounts = money[[*columns]].astype(float).round(6)
    told = dict(zip(amounts.index, amounts.itertuples(index=False, name=None), strict=True))
    wanted = [job.label for job in group.members]
    rows = history.rows[history.rows["job"].isin(wanted)]
    damage = {label: part for label, part in rows.groupby("job", sort=False)}
    lines = []
    for label in wanted:
        findings = tuple(
            (catalogue.kinds[kind].name, outcome)
            for kind, outcome in zip(damage[label]["finding"], damage[label]["outcome"], strict=True)
        )
        money_of = dict(zip(columns, told[label], strict=True)) if label in told else {}
        lines.append(JobLine(label, days[label], routes.get(label, ""), findings, **money_of))
    return tuple(lines)
