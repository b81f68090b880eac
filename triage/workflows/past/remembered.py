"""How the shop's own spreadsheet was matched, kept beside its record for the next file."""

from __future__ import annotations

import os
import tempfile
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import tomlkit

from triage.domain.catalogue import Catalogue
from triage.errors import Fault, HistoryError
from triage.ledger.history.column_mapping import ColumnMapping, load_mapping
from triage.workflows.shop.learned_chances import learned_folder


def mapping_file(where: str | None = None) -> Path:
    """The file beside the record (`where`, else the default one), whether it is there or not."""
    folder = learned_folder(where)
    return folder.with_name(folder.name.removesuffix("-learned") + "-import.toml")


def remembered_mapping(catalogue: Catalogue, where: str | None = None) -> ColumnMapping | None:
    """What was matched before; None where nothing was, or where it no longer fits the catalogue."""
    own = mapping_file(where)
    if not own.exists():
        return None
    try:
        return load_mapping(own, catalogue)
    except HistoryError:
        return None  # a file that was edited or outgrown costs only its matches


def remember(mapping: ColumnMapping, catalogue: Catalogue, where: str | None = None) -> None:
    """Keep a mapping; words that were matched before and are not in it stay.

    Raises
    ------
    HistoryError : the file cannot be written.
    """
    own, before = mapping_file(where), remembered_mapping(catalogue, where)
    if before is not None:
        words = {
            column: {**before.words.get(column, {}), **mapping.words.get(column, {})}
            for column in {**before.words, **mapping.words}
        }
        mapping = replace(mapping, words=words)
    try:
        own.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(
            "w", encoding="utf-8", dir=own.parent, prefix=".import-", delete=False
        ) as waiting:
            waiting.write(mapping_text(mapping))
        os.replace(waiting.name, own)
    except OSError as problem:
        wrong = f"cannot be written: {problem.strerror}"
        raise HistoryError([Fault(str(own), None, "file", wrong, "a writable folder")]) from problem


def mapping_text(mapping: ColumnMapping) -> str:
    """Write a mapping as the TOML file that `triage record import --mapping` reads."""
    blank = ColumnMapping()
    said: dict[str, Any] = {
        item.name: getattr(mapping, item.name)
        for item in fields(mapping)
        if item.name != "document" and getattr(mapping, item.name) != getattr(blank, item.name)
    }
    return tomlkit.dumps(said)
