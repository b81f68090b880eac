"""Options that several commands share."""

from __future__ import annotations

import math
import re
from datetime import date, datetime
from pathlib import Path
from typing import Annotated

import typer

_MONEY = re.compile(r"[0-9]+(\.[0-9]*)?|\.[0-9]+")
_MOST_MONEY = 1e7


def parse_money(text: str) -> float:
    """Read an amount of money: digits with a point, not negative."""
    if isinstance(text, float):
        return text
    if not _MONEY.fullmatch(text.strip()) or not math.isfinite(amount := float(text)) or amount > _MOST_MONEY:
        raise typer.BadParameter(
            f"{text[:60]!r} is not an amount of money; allowed: a number from 0, such as 45 or 84.50"
        )
    return amount


def parse_day(text: str) -> date:
    """Read an ISO 8601 date."""
    try:
        day = datetime.strptime(text, "%Y-%m-%d").date()
    except ValueError as problem:
        raise typer.BadParameter(f"{text!r} is not a date; allowed: a date such as 2026-11-25") from problem
    if not 1970 <= day.year <= 2199:
        raise typer.BadParameter(f"{text} is out of range; allowed: a date from 1970 to 2199")
    return day


Catalogue = Annotated[
    Path | None,
    typer.Option(
        metavar="TOML", help="Catalogue of damage kinds: a file or folder. Default: the shipped one."
    ),
]
_DEMO = "Default: the invented demo shop."
_OWN = "Default: your own beside your record, else the invented demo shop."
_BELIEFS, _DRAWS, _RULES = (
    "Assumptions: a folder.",
    "Fit: a folder written by `triage fit`.",
    "Settings: rates, fees, rules.",
)
Priors = Annotated[Path | None, typer.Option(metavar="DIR", help=f"{_BELIEFS} {_DEMO}")]
OwnPriors = Annotated[Path | None, typer.Option(metavar="DIR", help=f"{_BELIEFS} {_OWN}")]
Posterior = Annotated[Path | None, typer.Option(metavar="DIR", help=f"{_DRAWS} {_DEMO}")]
OwnPosterior = Annotated[Path | None, typer.Option(metavar="DIR", help=f"{_DRAWS} {_OWN}")]
Settings = Annotated[Path | None, typer.Option(metavar="TOML", help=f"{_RULES} {_DEMO}")]
OwnSettings = Annotated[Path | None, typer.Option(metavar="TOML", help=f"{_RULES} {_OWN}")]
Prices = Annotated[
    Path | None, typer.Option(metavar="TOML", help="Price book. Default: the invented demo shop.")
]
Stock = Annotated[
    str | None,
    typer.Option(
        "--record",
        metavar="URL",
        help="Your record: its prices and parts stock override the price book; its check results count. "
        "Default: $TRIAGE_RECORD, else the record in your data folder, if there is one.",
    ),
]
Ledger = Annotated[
    str | None,
    typer.Option(
        "--record",
        metavar="URL",
        help="Your record: a file, or postgresql://... Default: $TRIAGE_RECORD, "
        "else a file in your data folder.",
    ),
]
AsOf = Annotated[
    date | None,
    typer.Option(
        parser=parse_day, metavar="DATE", help="Date of the answer, such as 2026-11-25. Default: today."
    ),
]
_ROW = "The shop's past jobs, one row per damage."
PastJobs = Annotated[Path, typer.Option("--past-jobs", metavar="CSV", help=_ROW)]
PastJobsOrRecord = Annotated[Path | None, typer.Option("--past-jobs", metavar="CSV", help=_ROW)]
RecordOfJobs = Annotated[
    str | None,
    typer.Option(
        "--record",
        metavar="URL",
        help="The shop's record, instead of --past-jobs: a file, or postgresql://...",
    ),
]
Json = Annotated[bool, typer.Option("--json", help="Print one JSON object.")]
Full = Annotated[bool, typer.Option("--full", help="Print the full answer.")]
