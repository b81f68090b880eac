"""A device description written as UNIT.toml text, the inverse of reading one."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict, fields
from typing import Any

from triage.domain.units import Finding, Ownership, Unit

_DEVICE = (
    "name",
    "tier",
    "model",
    "cause",
    "technician",
    "working_price",
    "parts_value",
    "battery",
    "data_wanted",
)
_FINDING = ("kind", "severity", "zone", "chance", "note")


def unit_text(unit: Unit) -> str:
    """Write a unit as TOML; what stands at its default is left out."""
    lines: list[str] = []
    if unit.symptoms:
        lines += [f"symptom = {_value(list(unit.symptoms))}", ""]
    lines += ["[device]", *_entries({name: getattr(unit, name) for name in _DEVICE}, _defaults(Unit))]
    ownership = list(_entries(asdict(unit.ownership), _defaults(Ownership)))
    if ownership:
        lines += ["", "[ownership]", *ownership]
    for finding in unit.findings:
        kept = {name: getattr(finding, name) for name in _FINDING}
        # Severity is said even where it is the usual one: it is a judgement.
        lines += ["", "[[finding]]", *_entries(kept, {**_defaults(Finding), "severity": None})]
    return "\n".join(lines) + "\n"


def _defaults(kind: type) -> dict[str, Any]:
    return {item.name: item.default for item in fields(kind)}


def _entries(values: dict[str, Any], defaults: dict[str, Any]) -> Iterator[str]:
    for name, value in values.items():
        if value is not None and value != defaults.get(name):
            yield f"{name} = {_value(value)}"


def _value(value: Any) -> str:
    """Write one value; a JSON string is a TOML string but for the delete character."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
