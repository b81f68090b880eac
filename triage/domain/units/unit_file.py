"""UNIT.toml: one device as a file, checked against the catalogue and price book."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, StrictBool

from triage.domain.catalogue import Catalogue
from triage.domain.documents import Document, Location, build, read_toml
from triage.domain.money import Money
from triage.domain.shop.price_book import PriceBook
from triage.domain.units.unit import (
    CAUSES,
    BatteryState,
    CheckResult,
    ExtraWork,
    Finding,
    Identity,
    Lock,
    Ownership,
    Severity,
    Text,
    Unit,
)
from triage.errors import Fault, UnitFileError, nearest


def parse_chance(value: Any) -> float:
    """Read a chance as a number from 0 to 1 or as a count such as "8 in 20"."""
    if isinstance(value, str):
        found = re.fullmatch(r"\s*([0-9]{1,9})\s+in\s+([0-9]{1,9})\s*", value)
        if not found or int(found.group(2)) == 0 or int(found.group(1)) > int(found.group(2)):
            raise ValueError('a number from 0 to 1, or a count such as "8 in 20"')
        return int(found.group(1)) / int(found.group(2))
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError('a number from 0 to 1, or a count such as "8 in 20"')
    return float(value)


@dataclass(frozen=True)
class _FindingEntry:
    kind: str
    severity: Severity = 2
    zone: str = ""
    chance: Annotated[float, BeforeValidator(parse_chance), Field(ge=0, le=1)] = 1.0
    note: Text = ""


@dataclass(frozen=True)
class _Device:
    name: Text
    tier: str
    model: Text = ""
    cause: str = ""
    technician: str = ""
    working_price: Money | None = None
    parts_value: Money | None = None
    battery: BatteryState = "not-seen"
    data_wanted: bool = False
    extra_work: ExtraWork = "ask"


@dataclass(frozen=True)
class _CheckEntry:
    check: str
    found: StrictBool
    on: Annotated[date, Field(ge=date(1970, 1, 1), le=date(2199, 12, 31))] | None = None


@dataclass(frozen=True)
class _OwnershipEntry(Ownership):
    """What nobody said was not checked."""

    lock: Lock = "cannot-tell"
    identity: Identity = "not-checked"


@dataclass(frozen=True)
class _UnitFile:
    device: _Device
    ownership: _OwnershipEntry = field(default_factory=_OwnershipEntry)
    finding: tuple[_FindingEntry, ...] = ()
    symptom: tuple[str, ...] = ()
    check: tuple[_CheckEntry, ...] = ()


def load_unit(path: Path, catalogue: Catalogue, prices: PriceBook) -> Unit:
    """Read a device description, or raise `UnitFileError` with every fault in it."""
    return unit_from(read_toml(path, UnitFileError), catalogue, prices)


def unit_from(document: Document, catalogue: Catalogue, prices: PriceBook) -> Unit:
    """Build a unit from a parsed document; slugs are checked even when the shape is wrong."""
    faults: list[Fault] = []
    try:
        entry = build(_UnitFile, document, UnitFileError)
    except UnitFileError as problem:
        faults += problem.faults
    faults += _slug_faults(document, catalogue, prices)
    if faults:
        raise UnitFileError(sorted(faults, key=lambda fault: fault.line or 0))
    device = entry.device
    return Unit(
        **{name: getattr(device, name) for name in _Device.__dataclass_fields__},
        findings=tuple(Finding(**vars(finding)) for finding in entry.finding),
        symptoms=entry.symptom,
        readings=tuple(CheckResult(**vars(reading)) for reading in entry.check),
        ownership=Ownership(**vars(entry.ownership)),
    )


def _slug_faults(document: Document, catalogue: Catalogue, prices: PriceBook) -> list[Fault]:
    """Words in the file that the catalogue or the price book does not know."""
    faults: list[Fault] = []

    def check(value: Any, known: Any, at: Location, words: str, what: str) -> None:
        if isinstance(value, str) and value not in known:
            wrong = f"{value!r} is not a known {what}" + nearest(value, known)
            faults.append(Fault(document.name, document.line(at), words, wrong, _listed(known)))

    at: Location
    device = document.tables.get("device")
    if isinstance(device, dict):
        check(device.get("tier"), prices.tiers(), ("device", "tier"), "device, tier", "tier")
        check(device.get("cause") or None, CAUSES, ("device", "cause"), "device, cause", "cause")
    findings = document.tables.get("finding", [])
    for index, entry in enumerate(findings if isinstance(findings, list) else []):
        if isinstance(entry, dict):
            at, words = ("finding", index), f"finding {index + 1}"
            check(entry.get("kind"), catalogue.kinds, (*at, "kind"), f"{words}, kind", "damage kind")
            check(entry.get("zone") or None, catalogue.zones, (*at, "zone"), f"{words}, zone", "zone")
    readings = document.tables.get("check", [])
    for index, entry in enumerate(readings if isinstance(readings, list) else []):
        if isinstance(entry, dict):
            at, words = ("check", index, "check"), f"check {index + 1}, check"
            check(entry.get("check"), catalogue.checks, at, words, "check")
    symptoms = document.tables.get("symptom", [])
    for value in symptoms if isinstance(symptoms, list) else []:
        check(value, catalogue.symptoms, ("symptom",), "symptom", "symptom")
    return faults


def _listed(known: Any, most: int = 12) -> str:
    words = list(known)
    return ", ".join(words[:most]) + (f" and {len(words) - most} more" if len(words) > most else "")


def without_finding(unit: Unit, kind: str) -> Unit:
    """The same unit with every finding of one kind taken off."""
    return replace(unit, findings=tuple(f for f in unit.findings if f.kind != kind))
