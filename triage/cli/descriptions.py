"""DEVICE.toml as a command is given it: a file, or standard input."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from triage.domain.documents import Document


def read_description(unit: str) -> Document:
    """Parse a description; `-` is stdin.

    Raises
    ------
    UnitFileError : it cannot be read, or is not TOML.
    """
    from triage.domain.documents import parse_toml, read_toml
    from triage.errors import Fault, UnitFileError

    if unit != "-":
        return read_toml(Path(unit), UnitFileError)
    if sys.stdin is None:
        raise UnitFileError([Fault("stdin", None, "file", "is closed", "a readable TOML file")])
    try:
        text = sys.stdin.buffer.read().decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        fault = Fault("stdin", None, "file", "is not UTF-8 text", "a readable TOML file")
        raise UnitFileError([fault]) from problem
    return parse_toml(text, "stdin", UnitFileError)
