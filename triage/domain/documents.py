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
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

from pydantic import TypeAdapter, ValidationError
from pydantic_core import ErrorDetails

from triage.domain.plain_files import plain_file
from triage.errors import Fault, InputError, nearest

T = TypeVar("T")
Location = tuple[str | int, ...]

_HEADER = re.compile(r"^\s*(\[\[?)\s*([A-Za-z0-9_\-\"'. \t]+?)\s*\]\]?\s*(#.*)?$")
_KEY = re.compile(r"^\s*([A-Za-z0-9_\-\"']+(?:\s*\.\s*[A-Za-z0-9_\-\"']+)*)\s*=")
# A key of a hundred thousand parts would be parsed for minutes.
_MOST_DOTS = 200
# Where pydantic's own words speak of Python, not of TOML.
_TOML_WORDS = {"dataclass_type": "a table", "tuple_type": "a list", "dict_type": "a table"}
# Made once a kind: that takes longer than reading a small document.
_adapter: Callable[[Any], TypeAdapter[Any]] = cache(TypeAdapter)
_hints: Callable[[Any], dict[str, Any]] = cache(typing.get_type_hints)


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
        text = plain_file(path).read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as problem:
        wrong = getattr(problem, "strerror", None) or "is not UTF-8 text"
        raise error([Fault(str(path), None, "file", wrong, "a readable TOML file")]) from problem
    return parse_toml(text, str(path), error)


def parse_toml(text: str, name: str, error: type[InputError]) -> Document:
    """Parse TOML text, keeping the line of every header and key."""
    for number, dots in enumerate((row.count(".") for row in text.split("\n")), start=1):
        if dots > _MOST_DOTS:
            raise error(
                [Fault(name, number, "file", f"has {dots:,} dots", f"at most {_MOST_DOTS} on a line")]
            )
    try:
        tables = tomllib.loads(text)
    except (ValueError, RecursionError) as problem:  # a number of thousands of digits, tables in tables
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
    unknown = _unknown_fields(kind, document.tables, ())
    faults = [_unknown_fault(at, known, document) for at, known in unknown]
    said: set[Location] = set()
    try:
        built: T = _adapter(kind).validate_python(document.tables)
    except ValidationError as problem:
        said = {item["loc"] for item in problem.errors()}
        faults += [_fault(item, kind, document) for item in problem.errors()]
    faults += [
        Fault(document.name, document.line(at), dotted(at), *_MISTAKEN[type(value)](value))
        for at, value in _mistaken(kind, document.tables, ())
        if at not in said
    ]
    if faults:
        raise error(sorted(faults, key=lambda fault: fault.line or 0))
    return built


def _unknown_fields(kind: Any, data: Any, at: Location) -> Iterator[tuple[Location, list[str]]]:
    """Yield each key that no field takes, with the fields there are; pydantic lets them pass."""
    options = [option for option in typing.get_args(kind) if option not in (type(None), Ellipsis)]
    if dataclasses.is_dataclass(kind) and isinstance(data, dict):
        known = _hints(kind)
        for key, value in data.items():
            if key in known:
                yield from _unknown_fields(known[key], value, (*at, key))
            else:
                yield (*at, key), sorted(known)
    elif options and type(None) in typing.get_args(kind):
        yield from _unknown_fields(options[0], data, at)
    elif options and isinstance(data, dict | list):
        for place, value in data.items() if isinstance(data, dict) else enumerate(data):
            yield from _unknown_fields(options[-1], value, (*at, place))


# What is wrong with a value of each type that was taken for another, and what is allowed.
_MISTAKEN: dict[type, Callable[[Any], tuple[str, str]]] = {
    bool: lambda value: (f"{str(value).lower()} is no number", "a number"),
    str: lambda value: (f"{_short(value)} is a text", "a number, or true or false, without quotes"),
    int: lambda value: (f"{_short(value)} is a number", "true or false"),
    float: lambda value: (f"{_short(value)} is a number", "true or false"),
}


def _mistaken(kind: Any, data: Any, at: Location) -> Iterator[tuple[Location, bool | str | float]]:
    """Yield each value that pydantic takes for another: true for 1, "12" for 12, 1 and "yes" for true."""
    options = [option for option in typing.get_args(kind) if option not in (type(None), Ellipsis)]
    wanted = {kind, *options}
    if isinstance(data, bool):
        if bool not in wanted and {int, float} & wanted:
            yield at, data
    elif isinstance(data, str):
        if str not in wanted and (bool in wanted or ({int, float} & wanted and _is_number(data))):
            yield at, data
    elif isinstance(data, int | float):
        if bool in wanted and not {int, float} & wanted:
            yield at, data
    elif dataclasses.is_dataclass(kind) and isinstance(data, dict):
        known = _hints(kind)
        for key, value in data.items():
            if key in known:
                yield from _mistaken(known[key], value, (*at, key))
    elif options and isinstance(data, dict | list):
        for place, value in data.items() if isinstance(data, dict) else enumerate(data):
            yield from _mistaken(options[-1], value, (*at, place))
    elif options and type(None) in typing.get_args(kind):
        yield from _mistaken(options[0], data, at)


def _is_number(text: str) -> bool:
    """Whether a text reads as a number; one such as "8 in 20" is its reader's to take."""
    try:
        return bool(str(float(text)))
    except ValueError:
        return False


def _unknown_fault(at: Location, known: list[str], document: Document) -> Fault:
    wrong = "is not a known field" + nearest(str(at[-1])[:60], known)
    return Fault(document.name, document.line(at), dotted(at), wrong, ", ".join(known))


def _choices(kind: Any, at: Location) -> tuple[str, ...]:
    """Values that a choice at a place of a kind may take; none where there is no choice."""
    inner = [option for option in typing.get_args(kind) if option not in (type(None), Ellipsis)]
    if typing.get_origin(kind) is typing.Literal:
        return tuple(map(str, inner))
    if dataclasses.is_dataclass(kind):
        known = _hints(kind)
        return _choices(known[str(at[0])], at[1:]) if at and at[0] in known else ()
    if not inner:
        return ()
    if typing.get_origin(kind) in (tuple, list, dict):
        return _choices(inner[-1], at[1:])
    return _choices(inner[0], at)


def _fault(item: ErrorDetails, kind: Any, document: Document) -> Fault:
    location = item["loc"]
    words = dotted(location)
    if item["type"] == "missing":
        return Fault(document.name, document.line(location), words, "is missing", "it must be given")
    wrong = f"{_short(item.get('input'))} is not accepted"
    told = item.get("ctx", {})
    # Shorter to read without the start that all of these messages share.
    said = _TOML_WORDS.get(item["type"], item["msg"].removeprefix("Input should be "))
    ours = told["error"] if item["type"] == "value_error" else None
    allowed = str(told.get("expected") or ours or said)
    if item["type"] == "literal_error" and isinstance(item.get("input"), str):
        wrong += nearest(item["input"], _choices(kind, location))
    return Fault(document.name, document.line(location), words, wrong, allowed)


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
            words.append(part if len(part) <= 60 else part[:57] + "...")
    return ", ".join(words) or "file"
