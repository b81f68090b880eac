"""`triage backup` and `triage restore`: the whole shop in one file, and back."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from triage.cli import options
from triage.cli.terminal.progress import progress

if TYPE_CHECKING:
    from triage.workflows.backup.manifest import Missing

_ALSO = "also backed up; name it if the pages use it."


def backup(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Path of the backup, such as shop.zip.")],
    ledger: options.Ledger = None,
    force: Annotated[bool, typer.Option("--force", help="Replace an existing file.")] = False,
    with_passcodes: Annotated[
        bool, typer.Option("--with-passcodes", help="Include the passcodes of owners' devices.")
    ] = False,
    without_record: Annotated[
        bool, typer.Option("--without-record", help="Leave out the record; required if it is on a server.")
    ] = False,
    catalogue: Annotated[Path | None, typer.Option(metavar="TOML", help=f"Damage kinds, {_ALSO}")] = None,
    priors: Annotated[Path | None, typer.Option(metavar="DIR", help=f"Assumptions, {_ALSO}")] = None,
    posterior: Annotated[Path | None, typer.Option(metavar="DIR", help=f"Fit, {_ALSO}")] = None,
    settings: Annotated[Path | None, typer.Option(metavar="TOML", help=f"Settings, {_ALSO}")] = None,
    prices: Annotated[Path | None, typer.Option(metavar="TOML", help=f"Price book, {_ALSO}")] = None,
    as_json: options.Json = False,
) -> None:
    """Back up the whole shop to one file: record, settings, prices, assumptions, chances, photographs.

    Others can keep working. The finished backup is checked.
    """
    from dataclasses import fields, replace

    from triage.workflows.backup.back_up import back_up_shop
    from triage.workflows.backup.words import held_words
    from triage.workflows.shop.shop_files import ShopFiles

    given = ShopFiles(catalogue, priors, posterior, settings, prices)
    told = {item.name: path for item in fields(given) if (path := getattr(given, item.name)) is not None}
    named = replace(ShopFiles.from_environment(os.environ), **told)
    with progress("copying files") as bar:
        made = back_up_shop(
            file, ledger, named, force=force, passcodes=with_passcodes, record=not without_record, tell=bar
        )
    manifest = made.manifest
    if as_json:
        from dataclasses import asdict

        kept = asdict(manifest.record) if manifest.record else None
        _print({
            "file": str(made.file), "size": made.size, "made_at": manifest.made_at, "record": kept,
            "files": len(manifest.files), "missing": _missing_object(manifest.missing),
        })  # fmt: skip
    else:
        typer.echo(f"checked backup: {made.file} ({made.size:,} bytes)\ncontents: {held_words(manifest)}")
    _say_missing(manifest.missing)


def restore(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A file made by `triage backup`.")],
    ledger: options.Ledger = None,
    force: Annotated[bool, typer.Option("--force", help="Rename existing files first.")] = False,
    as_json: options.Json = False,
) -> None:
    """Check a backup, then restore the whole shop from it."""
    from triage.workflows.backup.restore import restore_shop
    from triage.workflows.backup.words import PART_WORDS

    done = restore_shop(file, ledger, force)
    manifest = done.manifest
    if as_json:
        _print({
            "file": str(done.file), "made_at": manifest.made_at, "program": manifest.program,
            "record": _path(done.record), "aside": _path(done.aside),
            "jobs": manifest.record.jobs if manifest.record else None,
            "entries": manifest.record.entries if manifest.record else None,
            "erased_again": done.erased_again,
            "parts": [
                {"part": part.name, "place": str(part.where), "files": part.files, "aside": _path(part.aside),
                 "unchanged": part.unchanged} for part in done.parts
            ],
            "named": [
                {"book": book.book, "place": str(book.where), "option": book.option,
                 "variable": book.variable} for book in done.named
            ],
            "missing": _missing_object(manifest.missing),
        })  # fmt: skip
    else:
        typer.echo(f"restored from {done.file}, created {manifest.made_at} by version {manifest.program}")
        if manifest.record:
            kept = manifest.record
            typer.echo(f"record with {kept.jobs:,} jobs, {kept.entries:,} entries: {done.record}")
        for part in done.parts:
            state = " (unchanged)" if part.unchanged else "" if part.files else " (none in the backup)"
            typer.echo(f"{PART_WORDS[part.name]}{state}: {part.where}")
        for book in done.named:
            typer.echo(f"start the pages with {book.option} {book.where}, or set {book.variable}")
    if done.erased_again:
        typer.echo(f"Personal data erased again, as before: {done.erased_again} jobs", err=True)
    for aside in (done.aside, *(part.aside for part in done.parts)):
        if aside:
            typer.echo(f"The earlier files were renamed to {aside}", err=True)
    _say_missing(manifest.missing)


def _print(told: dict[str, object]) -> None:
    from triage.reports.json_output.answer import SCHEMA
    from triage.reports.json_output.answer import as_json as written

    typer.echo(written({"schema": SCHEMA, **told}))


def _path(path: Path | None) -> str | None:
    return str(path) if path else None


def _missing_object(missing: tuple[Missing, ...]) -> list[dict[str, str]]:
    from triage.workflows.backup.words import missing_words

    return [{"kind": one.kind, "what": one.what, "words": missing_words(one)} for one in missing]


def _say_missing(missing: tuple[Missing, ...]) -> None:
    from triage.workflows.backup.words import missing_words

    for one in missing:
        typer.echo(f"Not in the backup: {missing_words(one)}", err=True)
