"""Arbitrary user input: each target answers, or refuses with a TriageError."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path

from triage.domain.catalogue import load_catalogue
from triage.domain.documents import parse_toml
from triage.domain.shop.price_book import load_price_book
from triage.domain.units.unit_file import unit_from
from triage.errors import TriageError, UnitFileError
from triage.ledger.history.column_mapping import parse_mapping
from triage.shipped import shipped
from triage.workflows.jobs.import_history import read_past_jobs

CATALOGUE = load_catalogue()
PRICES = load_price_book(shipped("models/shop/demo-prices.toml"))
MAPPING = """\
delimiter = ";"
encoding = "cp1252"
decimal = ","
dates = "DD.MM.YYYY"
currency = "EUR"
round_money = true
[columns]
job = "Auftrag"
date = "Eingang"
finding = "Schaden"
[words.finding]
"Rahmen" = "frame-bent"
[words.outcome]
ja = "fixed"
[always]
route = "bought"
"""
SHEET = "Auftrag;Eingang;Schaden;outcome;paid;closed\nA 1;03.01.2026;Rahmen;ja;1.234,5;5.1.2026\n"
JOBS = "\n".join(shipped("synthetic_cases/past-jobs.csv").read_text(encoding="utf-8").splitlines()[:9]) + "\n"
UNIT = """\
[device]
name = "grey tablet"
tier = "upper"
cause = "bent"
battery = "not-seen"
[ownership]
lock = "clear"
identity = "agrees"
[[finding]]
kind = "frame-bent"
severity = 2
[[finding]]
kind = "camera-dead"
chance = "8 in 20"
[[check]]
check = "bench-supply-boot-current"
found = false
"""
KINDS = """\
[[kind]]
slug = "hinge-loose"
name = "hinge loose"
family = "hinges"
hidden = false
[[repair]]
slug = "tighten-hinge"
name = "tighten hinge"
closes = ["hinge-loose"]
"""


def _catalogue(data: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "kinds.toml"
        path.write_bytes(data)
        load_catalogue(path)


def _unit(data: bytes) -> None:
    document = parse_toml(data.decode("utf-8", "replace"), "unit.toml", UnitFileError)
    unit_from(document, CATALOGUE, PRICES)


# By name: a valid input, and what reads it.
TARGETS: dict[str, tuple[str, Callable[[bytes], object]]] = {
    "history": (JOBS, lambda data: read_past_jobs(data, "jobs.csv", CATALOGUE, "EUR")),
    "sheet": (
        SHEET,
        lambda data: read_past_jobs(
            data, "sheet.csv", CATALOGUE, "EUR", parse_mapping(MAPPING, "map.toml", CATALOGUE)
        ),
    ),
    "mapping": (
        MAPPING,
        lambda data: read_past_jobs(
            SHEET.encode(),
            "sheet.csv",
            CATALOGUE,
            "EUR",
            parse_mapping(data.decode("utf-8", "replace"), "map.toml", CATALOGUE),
        ),
    ),
    "unit": (UNIT, _unit),
    "catalogue": (KINDS, _catalogue),
}


def answers_or_refuses(target: str, data: bytes) -> None:
    """Pass data to a target; any exception except a TriageError is raised."""
    try:
        TARGETS[target][1](data)
    except TriageError as refusal:
        assert str(refusal)
