"""`triage record backup` and `restore`: a copy of the record while it is in use, and back."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from triage.cli import options


def backup(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Path of the copy.")],
    ledger: options.Ledger = None,
    force: Annotated[bool, typer.Option("--force", help="Replace an existing file.")] = False,
    as_json: options.Json = False,
) -> None:
    """Copy the record and check the copy; others can keep working.

    The copy holds everything, also passcodes not yet erased: protect it like
    the record. It does not hold photographs. `triage backup` saves the whole
    shop, photographs included, in one file.
    """
    from triage.ledger.backup import back_up
    from triage.ledger.opening import open_ledger

    opened = open_ledger(ledger, create=False)
    try:
        copied = back_up(opened, file, force)
    finally:
        opened.close()
    _say(copied, "checked copy", as_json)


def restore(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A copy made by `triage record backup`.")],
    ledger: options.Ledger = None,
    force: Annotated[bool, typer.Option("--force", help="Rename an existing record first.")] = False,
    as_json: options.Json = False,
) -> None:
    """Check a backup, then restore the record from it."""
    from triage.ledger.backup import restore as restored
    from triage.workflows.jobs.erasure_list import forget_in_copy

    again: list[int] = []
    copied = restored(file, ledger, force, lambda copy: again.append(forget_in_copy(copy, ledger, file)))
    _say(copied, "record", as_json)
    if any(again):
        typer.echo(f"Personal data erased again, as before: {sum(again)} jobs", err=True)
    if copied.aside:
        typer.echo(f"The earlier record was renamed to {copied.aside}", err=True)


def _say(copied, what: str, as_json: bool) -> None:
    counts = {"file": str(copied.file), "jobs": copied.jobs, "entries": copied.entries}
    if as_json:
        from triage.reports.json_output.answer import SCHEMA
        from triage.reports.json_output.answer import as_json as written

        aside = str(copied.aside) if copied.aside else None
        typer.echo(written({"schema": SCHEMA, **counts, "aside": aside}))
        return
    typer.echo(f"{what} with {copied.jobs:,} jobs, {copied.entries:,} entries: {copied.file}")
