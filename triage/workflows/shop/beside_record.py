"""Files of a shop that lie beside its record, named after it; each is replaced in one step."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from triage.errors import Fault, SettingsError
from triage.workflows.shop.learned_chances import learned_folder


def beside_record(ending: str, where: str | None = None) -> Path:
    """The file beside the record (`where`, else the default one), whether it is there or not."""
    folder = learned_folder(where)
    return folder.with_name(folder.name.removesuffix("-learned") + ending)


def replace_file(path: Path, text: str) -> None:
    """Write a file whole or not at all.

    Raises
    ------
    SettingsError : it cannot be written; what was there before still is.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(
            "w", encoding="utf-8", newline="", dir=path.parent, prefix=f".{path.stem}-", delete=False
        ) as waiting:
            waiting.write(text)
        os.replace(waiting.name, path)
    except OSError as problem:
        wrong = f"cannot be written: {problem.strerror}"
        raise SettingsError([Fault(str(path), None, "file", wrong, "a writable folder")]) from problem
