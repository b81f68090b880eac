"""A quote's document as files: where it may be written, and that it appears whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from triage.reports.quote.letter import Letter

_MOST_LETTERS = 200


def short_text(value: str) -> str:
    """Refuse a text that would not fit its line of the document."""
    if len(value) > _MOST_LETTERS:
        raise typer.BadParameter(f"is too long; allowed: at most {_MOST_LETTERS} characters")
    return value


def refuse_places(places: dict[str, Path | None], force: bool, unit: str) -> None:
    """Refuse files that cannot be written or are there already, all at once."""
    from triage.errors import Fault, InputError

    faults = []
    given = {name: path for name, path in places.items() if path is not None}
    for name, path in given.items():
        if path.is_dir():
            faults.append(Fault(str(path), None, name, "is a folder", "a file"))
        elif path.exists() and not path.is_file():
            faults.append(Fault(str(path), None, name, "is a pipe or a device", "a file"))
        elif path.exists() and Path(unit).exists() and path.samefile(unit):
            faults.append(Fault(str(path), None, name, "is the description itself", "a free name"))
        elif path.exists() and not force:
            faults.append(Fault(str(path), None, name, "already exists", "an unused name, or --force"))
        elif not path.parent.is_dir():
            faults.append(Fault(str(path), None, name, "its folder does not exist", "an existing folder"))
    if len({path.absolute() for path in given.values()}) < len(given):
        faults.append(
            Fault(str(given["--html"]), None, "--html", "is the same file as --pdf", "another file")
        )
    if faults:
        raise InputError(faults)


def write(letter: Letter, pdf: Path | None, html: Path | None) -> tuple[Path, ...]:
    """Set both documents before either is written; each appears whole or not at all."""
    from triage.errors import DocumentError
    from triage.reports.quote.document import quote_html, quote_pdf

    content: dict[Path, bytes] = {}
    if pdf is not None:
        content[pdf] = quote_pdf(letter)
    if html is not None:
        content[html] = quote_html(letter).encode()
    waiting: dict[Path, Path] = {}
    try:
        for path, data in content.items():
            waiting[path] = path.with_name(f".{path.name}.{os.getpid()}.tmp")
            waiting[path].write_bytes(data)
        for path, temporary in waiting.items():
            os.replace(temporary, path)
    except OSError as problem:
        raise DocumentError(f"{problem.filename}: {problem.strerror}") from problem
    finally:
        for temporary in waiting.values():
            temporary.unlink(missing_ok=True)
    return tuple(content)
