"""TOML files read with their line numbers, and checked against a dataclass.

`tomllib` forgets where a value stood, so a second light pass over the text
remembers the line of each table header and key. Validation itself is
pydantic's; this file turns its complaints into `Fault`s.
"""

from __future__ import annotations

import dataclasses
import re
import tomllib
import typing
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

from pydantic import TypeAdapter, ValidationError

from triage.errors import Fault, InputError, nearest

T = TypeVar("T")
Location = tuple[str | int, ...]

_HEADER = re.compile(r"^\s*(\[\[?)\s*([A-Za-z0-9_\-\"'. \t]+?)\s*\]\]?\s*(#.*)?$")
_KEY = re.compile(r"^\s*([A-Za-z0-9_\-\"']+(?:\s*\.\s*[A-Za-z0-9_\-\"']+)*)\s*=")
# pydantic's own words for these two say neither what is wrong nor what is allowed,
# and for the others they speak of Python, not of TOML.
_MISSING, _UNKNOWN = "missing", "unexpected_keyword_argument"
_TOML_WORDS = {"dataclass_type": "a table", "tuple_type": "a list", "dict_type": "a table"}


@dataclass(frozen=True)
class Document:
    """A parsed TOML file: its tables, and the line each location starts on."""

    name: str
    tables: dict[str, Any]
    lines: dict[Location, int] = field(default_factory=dict)

    def line(self, location: Location) -> int | None:
        """Return the line of a location, or of the nearest table around it."""
        for end in range(len(location), 0, -1):
            if location[:end] in self.lines:
                return self.lines[location[:end]]
        return 1 if self.lines else None


def read_toml(path: Path, error: type[InputError]) -> Document:
    """Parse a TOML file; a missing, undecodable or malformed one is an `error`."""
    try:
        text = Path(path).read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as problem:
        wrong = getattr(problem, "strerror", None) or "is not UTF-8 text"
        raise error([Fault(str(path), None, "file", wrong, "a readable TOML file")]) from problem
    return parse_toml(text, str(path), error)


def parse_toml(text: str, name: str, error: type[InputError]) -> Document:
    """Parse TOML text, keeping the line of every header and key."""
    try:
        tables = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as problem:
        found = re.search(r"line (\d+)", str(problem))
        line = int(found.group(1)) if found else None
        raise error([Fault(name, line, "file", str(problem), "well-formed TOML")]) from problem
    return Document(name, tables, _locate(text))


def _locate(text: str) -> dict[Location, int]:
    """Map (table, index, key) locations to 1-based line numbers."""
    lines: dict[Location, int] = {}
    counts: dict[Location, int] = {}
    table: Location = ()
    for number, line in _lines_outside_strings(text):
        if header := _HEADER.match(line):
            table = _resolve(_parts(header.group(2)), counts)
            if header.group(1) == "[[":
                counts[table] = counts.get(table, -1) + 1
                table = (*table, counts[table])
            lines.setdefault(table, number)
        elif key := _KEY.match(line):
            lines.setdefault((*table, *_parts(key.group(1))), number)
    return lines


def _lines_outside_strings(text: str) -> Iterator[tuple[int, str]]:
    """Number the lines as `tomllib` does; leave out what starts inside a multi-line string."""
    closing = ""
    for number, line in enumerate(text.split("\n"), start=1):
        if not closing:
            yield number, line
        for mark in re.findall(r"\"\"\"|'''", line):
            closing = "" if mark == closing else closing or mark


def _parts(dotted: str) -> Location:
    return tuple(part.strip().strip("\"'") for part in dotted.split("."))


def _resolve(parts: Location, counts: dict[Location, int]) -> Location:
    """Put the current index after each array of tables a header passes through."""
    place: Location = ()
    for part in parts[:-1]:
        place = (*place, part)
        if place in counts:
            place = (*place, counts[place])
    return (*place, parts[-1])


def build(kind: type[T], document: Document, error: type[InputError]) -> T:
    """Build a frozen dataclass from a document, or raise every fault in it."""
    return build_part(kind, document.tables, document, (), error)


def build_part(
    kind: type[T], data: Any, document: Document, at: Location, error: type[InputError]
) -> T:
    """Build a dataclass from one part of a document that stands at `at`."""
    try:
        return TypeAdapter(kind).validate_python(data)
    except ValidationError as problem:
        faults = [_fault(item, document, at, kind) for item in problem.errors()]
        raise error(faults) from problem


def _fault(item: dict[str, Any], document: Document, at: Location, kind: type) -> Fault:
    location = (*at, *item["loc"])
    words = dotted(location)
    context = item.get("ctx", {})
    if item["type"] == _MISSING:
        return Fault(document.name, document.line(location), words, "is missing", "it must be given")
    if item["type"] == _UNKNOWN:
        known = sorted(_field_names(kind, item["loc"][:-1]))
        wrong = "is not a known field" + nearest(str(item["loc"][-1]), known)
        return Fault(document.name, document.line(location), words, wrong, ", ".join(known))
    wrong = f"{_short(item.get('input'))} is not accepted"
    said = item["msg"].removeprefix("Value error, ").removeprefix("Input should be ")
    allowed = str(context.get("expected") or _TOML_WORDS.get(item["type"], said))
    if item["type"] == "literal_error" and isinstance(item.get("input"), str):
        options = re.findall(r"'([^']+)'", allowed)
        wrong += nearest(item["input"], options)
    return Fault(document.name, document.line(location), words, wrong, allowed)


def _field_names(kind: Any, location: Location) -> set[str]:
    """Field names of the dataclass that a location inside `kind` points at."""
    for part in location:
        if dataclasses.is_dataclass(kind) and isinstance(part, str):
            kind = typing.get_type_hints(kind).get(part)
        else:
            inner = [a for a in typing.get_args(kind) if a is not Ellipsis]
            kind = inner[-1] if inner else None
        while typing.get_args(kind) and type(None) in typing.get_args(kind):
            kind = next(a for a in typing.get_args(kind) if a is not type(None))
    return {f.name for f in dataclasses.fields(kind)} if dataclasses.is_dataclass(kind) else set()


def _short(value: Any) -> str:
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


def dotted(location: Location) -> str:
    """Write a location as a reader counts: finding 2, severity."""
    words: list[str] = []
    for part in location:
        if isinstance(part, int):
            words[-1:] = [f"{words[-1] if words else 'entry'} {part + 1}"]
        else:
            words.append(str(part))
    return ", ".join(words) or "file"
