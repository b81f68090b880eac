"""A shop's own prices by model, kept beside its record: saved whole, merged with a file, undone."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import replace
from datetime import date
from pathlib import Path

from filelock import FileLock, Timeout

from triage.domain.catalogue import Catalogue
from triage.domain.shop.model_csv import models_text, read_models
from triage.domain.shop.model_names import same_model
from triage.domain.shop.model_table import (
    ModelChanges,
    TableRow,
    changes_between,
    read_table,
    table_rows,
    which_price,
)
from triage.domain.shop.price_book import ModelPrice
from triage.errors import Fault, SettingsError
from triage.workflows.shop.beside_record import beside_record, replace_file
from triage.workflows.shop.shop_files import ShopFiles

Rows = list[dict[str, str]]


def own_models_file(where: str | None = None) -> Path:
    """The file beside the record (`where`, else the default one), whether it is there or not."""
    return beside_record("-models.csv", where)


def with_own_models(files: ShopFiles, where: str | None = None) -> ShopFiles:
    """The same files, with the shop's own prices by model; a named file stands."""
    own = own_models_file(where)
    return replace(files, models=own) if files.models is None and own.exists() else files


def own_models(where: str | None = None) -> tuple[ModelPrice, ...]:
    """The shop's own prices by model; none where it has saved none.

    Raises
    ------
    SettingsError : the file cannot be read; every fault in it.
    """
    own = own_models_file(where)
    return read_models(own) if own.exists() else ()


def part_names(catalogue: Catalogue) -> dict[str, str]:
    """Names of the catalogue's parts by slug."""
    return {slug: part.name for slug, part in catalogue.parts.items()}


def models_stamp(where: str | None = None) -> str:
    """What tells one state of the saved prices from another; "" where there are none."""
    own = own_models_file(where)
    return hashlib.sha256(own.read_bytes()).hexdigest() if own.exists() else ""


def keep_models(
    models: Iterable[ModelPrice], seen: str | None = None, where: str | None = None
) -> ModelChanges:
    """Save the prices in place of those before, which `undo_models` brings back.

    Parameters
    ----------
    seen : `models_stamp` of what was edited; another save since then is not overwritten. None: any.

    Raises
    ------
    SettingsError : they were saved by somebody else meanwhile, or cannot be written; nothing is changed.
    """
    own, before = own_models_file(where), _before(where)
    with _alone(own):
        if seen is not None and seen != models_stamp(where):
            wrong = "the prices were changed in another window or by a command since this table was opened"
            raise SettingsError(
                [Fault("prices by model", None, "table", wrong, "load them again, then edit")]
            )
        text = own.read_text(encoding="utf-8") if own.exists() else models_text(())
        held = list(table_rows(_read_or_none(own)))
        written = models_text(models)
        if written != text:
            replace_file(before, text)
            replace_file(own, written)
        return changes_between(held, list(table_rows(models)))


def undo_models(where: str | None = None) -> ModelChanges:
    """Put the prices before the last save back; a second undo brings that save back.

    Raises
    ------
    SettingsError : there is no save to undo, or the file cannot be written.
    """
    own, before = own_models_file(where), _before(where)
    with _alone(own):
        if not before.exists():
            raise SettingsError(
                [
                    Fault(
                        str(own), None, "file", "there is no earlier state of these prices", "save them first"
                    )
                ]
            )
        earlier = before.read_text(encoding="utf-8")
        held, back = _read_or_none(own), _read_or_none(before)
        now = own.read_text(encoding="utf-8") if own.exists() else models_text(())
        replace_file(before, now)
        replace_file(own, earlier)
        return changes_between(list(table_rows(held)), list(table_rows(back)))


def can_undo(where: str | None = None) -> bool:
    """Whether there is a save to undo."""
    return _before(where).exists()


def merged(held: Iterable[ModelPrice], new: Iterable[ModelPrice]) -> tuple[ModelPrice, ...]:
    """The prices held, with each row of the new ones in place of the row it is about, or beneath."""
    rows = {which_price(row): row for row in table_rows(held)}
    for row in table_rows(new):
        rows[which_price(row)] = row
    return read_table(TableRow("prices by model", line, row) for line, row in enumerate(rows.values(), 1))


def without_model(held: Iterable[ModelPrice], model: str) -> tuple[ModelPrice, ...]:
    """The prices held, but for those of one model."""
    return tuple(entry for entry in held if not same_model(entry.model, model))


def old_prices(
    held: Iterable[ModelPrice], today: date, most_days: int
) -> tuple[tuple[str, str, int | None], ...]:
    """Model, item and days of age of each price that is older than the limit or has no date; oldest first."""
    ages = []
    for row in table_rows(held):
        day = row["checked_on"]
        age = (today - date.fromisoformat(day)).days if day else None
        if age is None or age > most_days:
            ages.append((row["model"], row["item"], age))
    return tuple(sorted(ages, key=lambda one: (one[2] is not None, -(one[2] or 0))))


def dated(rows: Iterable[Mapping[str, str]], held: Iterable[ModelPrice], today: date) -> Rows:
    """Rows as somebody edited them: a figure that is new, under no new day, was checked today.

    rows : cells by column, as in `table_rows`, but not yet read; {} is a blank row. held : the prices before.
    """
    before = {which_price(row): row for row in table_rows(held)}
    told: Rows = []
    for row in rows:
        if not row:
            told.append({})
            continue
        old, day = before.get(which_price(row), {}), row.get("checked_on", "").strip()
        figures = [name for name in row if name not in ("model", "item", "checked_on")]
        if day == old.get("checked_on", "") and any(
            row[name].strip() != old.get(name, "") for name in figures
        ):
            day = today.isoformat()
        told.append({**row, "checked_on": day})
    return told


def _before(where: str | None) -> Path:
    own = own_models_file(where)
    return own.with_name(own.name + ".before")


def _read_or_none(path: Path) -> tuple[ModelPrice, ...]:
    """Prices of a file; none where it is not there, or was spoilt by hand."""
    try:
        return read_models(path) if path.exists() else ()
    except SettingsError:
        return ()


@contextmanager
def _alone(own: Path) -> Iterator[None]:
    """One save at a time: pages and commands of several benches may share the folder."""
    try:
        own.parent.mkdir(parents=True, exist_ok=True)
        lock = FileLock(own.with_name(f".{own.name}.lock"), timeout=5, mode=0o600)
        lock.acquire()
    except (Timeout, OSError) as problem:
        wrong = "cannot be saved: another save is running, or the folder cannot be written"
        raise SettingsError(
            [Fault(str(own), None, "file", wrong, "a writable folder, and one save at a time")]
        ) from problem
    try:
        yield
    finally:
        lock.release()
        with suppress(OSError):
            Path(lock.lock_file).unlink(missing_ok=True)
