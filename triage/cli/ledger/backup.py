"""`triage ledger backup` and `restore`: a copy of the record while it is in use, and back."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from triage.cli import options


def backup(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Where the copy goes.")],
    ledger: options.Ledger = None,
    force: Annotated[bool, typer.Option("--force", help="Replace a file that is there.")] = False,
    as_json: options.Json = False,
) -> None:
    """Copy the record while others go on writing, and check the copy.

    It holds everything, passcodes not yet erased too: keep it as you keep the
    record. Photographs lie in a folder of their own and are not in it: `triage
    backup` keeps them and all else of a shop in one file.
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
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A copy made by `triage ledger backup`.")],
    ledger: options.Ledger = None,
    force: Annotated[
        bool, typer.Option("--force", help="Put a record that is there aside under another name.")
    ] = False,
    as_json: options.Json = False,
) -> None:
    """Make a record from a backup, once it has been checked."""
    from triage.ledger.backup import restore as restored
    from triage.workflows.jobs.erasure_list import forget_in_copy

    again: list[int] = []
    copied = restored(file, ledger, force, lambda copy: again.append(forget_in_copy(copy, ledger, file)))
    _say(copied, "record", as_json)
    if any(again):
        typer.echo(f"Erased again, as it was before: the people of {sum(again)} jobs", err=True)
    if copied.aside:
        typer.echo(f"The record that was there is now {copied.aside}", err=True)


def _say(copied, what: str, as_json: bool) -> None:
    counts = {"file": str(copied.file), "jobs": copied.jobs, "entries": copied.entries}
    if as_json:
        from triage.reports.json_output.answer import SCHEMA
        from triage.reports.json_output.answer import as_json as written

        aside = str(copied.aside) if copied.aside else None
        typer.echo(written({"schema": SCHEMA, **counts, "aside": aside}))
        return
    typer.echo(f"{what} with {copied.jobs:,} jobs, {copied.entries:,} entries: {copied.file}")
