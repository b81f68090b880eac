"""A device description written as UNIT.toml text, the inverse of reading one."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterator
from dataclasses import fields
from datetime import date
from typing import Any

from triage.domain.units.unit import Unit

# What of a unit has a table of its own; the rest is [device].
_TABLES = ("findings", "symptoms", "readings", "ownership")
# A finding in a file is one of intake: when it became known is not said there.
_UNSAID = ("known_at",)


def unit_text(unit: Unit) -> str:
    """Write a unit as TOML; what stands at its default is left out."""
    parts = ["\n".join(["[device]", *_entries(unit, _TABLES)])]
    # So is what was looked at: a file that does not say it means "not checked".
    parts.append("\n".join(["[ownership]", *_entries(unit.ownership, (), ("lock", "identity"))]))
    # Severity is said even where it is the usual one: it is a judgement.
    parts += ["\n".join(["[[finding]]", *_entries(found, _UNSAID, ("severity",))]) for found in unit.findings]
    parts += ["\n".join(["[[check]]", *_entries(reading)]) for reading in unit.readings]
    if unit.symptoms:
        parts.insert(0, f"symptom = {_value(list(unit.symptoms))}")
    return "\n\n".join(parts) + "\n"


def _entries(entry: Any, leave_out: Collection[str] = (), always: Collection[str] = ()) -> Iterator[str]:
    """Write the fields of one table that are not at their default."""
    for item in fields(entry):
        value = getattr(entry, item.name)
        if item.name not in leave_out and (item.name in always or value != item.default):
            yield f"{item.name} = {_value(value)}"


def _value(value: Any) -> str:
    """Write one value; a JSON string is a TOML string but for the delete character."""
    if isinstance(value, date):
        return value.isoformat()
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
