"""A shop put back from a backup: all of it checked first, nothing replaced that is not put aside.

The order makes a restore that was cut short repeatable: each part is written beside its place, then
moved there in one step, the record last. A part that is already as the backup has it is left alone.
"""

from __future__ import annotations

import hashlib
import os
import shutil
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from filelock import FileLock, Timeout

from triage.errors import BackupError
from triage.ledger.backup import refuse_if_in_use, restore
from triage.ledger.opening import ledger_url
from triage.workflows.backup.archive import OpenBackup, in_plain_words, opened_backup
from triage.workflows.backup.manifest import KeptFile, Manifest
from triage.workflows.backup.places import (
    IN_BACKUP,
    NAMED,
    RECORD,
    Part,
    PartName,
    files_below,
    files_folder,
    home_of,
    own_parts,
    record_file,
    shop_name,
)
from triage.workflows.jobs.erasure_list import forget_in_copy
from triage.workflows.shop.shop_files import ShopFiles


@dataclass(frozen=True)
class PutBack:
    """What became of one part of the shop.

    files : how many the backup holds of it; 0 where it holds none.
    aside : where what was there before has been put; None where nothing was.
    unchanged : it was there already, as the backup has it.
    """

    name: PartName
    where: Path
    files: int
    aside: Path | None = None
    unchanged: bool = False


@dataclass(frozen=True)
class NamedAgain:
    """A named book that was put back: the program does not find it by itself.

    variable : what to set in the environment; `option` : what to give on the command line.
    """

    book: str
    where: Path
    variable: str
    option: str


@dataclass(frozen=True)
class ShopRestored:
    """What was restored.

    record : its file, None where the backup holds none; aside : the one before. erased_again : jobs whose
    people had been erased since the backup was made, and were erased in it too.
    """

    file: Path
    manifest: Manifest
    record: Path | None
    aside: Path | None
    parts: tuple[PutBack, ...]
    named: tuple[NamedAgain, ...]
    erased_again: int


@dataclass(frozen=True)
class _Step:
    """One part to move. waiting : where it is written first; None where the backup holds none of it."""

    part: Part
    files: tuple[KeptFile, ...]
    waiting: Path | None


def restore_shop(file: Path, where: str | None = None, force: bool = False) -> ShopRestored:
    """Put a shop back from a backup.

    Parameters
    ----------
    where : the record to make, as `ledger_url` takes it; the default one when None. All else goes where
        the program looks for what belongs to that record.
    force : put what is there aside under another name first.

    Raises
    ------
    BackupError : the backup is damaged, is none, or is of a newer program; something is there already or
        in use; a place cannot be written. Nothing was changed then.
    """
    with in_plain_words(file), opened_backup(file) as backup:
        backup.check()
        record = _place_of_record(backup, where, force)
        steps = tuple(_steps(backup.manifest, where))
        unchanged = {step.part.name for step in steps if _same(step)}
        moving = [step for step in steps if step.part.name not in unchanged]
        for step in moving:
            _refuse_there(step, file, force)
        again: list[int] = []
        with _alone_at_work(where), _written(backup, moving, record, again) as waiting_record:
            asides, aside = _move(moving, waiting_record, record, force)
    parts = [
        PutBack(
            step.part.name, step.part.where, len(step.files), asides.get(step.part.name),
            step.part.name in unchanged,
        )
        for step in steps
    ]  # fmt: skip
    shown = tuple(part for part in parts if part.files or part.aside)
    named = tuple(_named(backup.manifest, where))
    return ShopRestored(file, backup.manifest, record, aside, shown, named, sum(again))


def _place_of_record(backup: OpenBackup, where: str | None, force: bool) -> Path | None:
    """Where the record goes, once it is known that it can; None where the backup holds none."""
    if backup.manifest.record is None:
        return None
    record = record_file(where)
    if record is None:
        raise BackupError(
            f"{ledger_url(where).render_as_string()} is on a PostgreSQL server, but the record in "
            f"{backup.file} is a file; name a file with --record"
        )
    if record.is_dir():
        raise BackupError(f"{record} is a folder; choose a file for the record")
    if record.exists():
        if record.samefile(backup.file):
            raise BackupError(f"{record} is the backup itself; choose another place")
        if not force:
            raise BackupError(
                f"{record} already exists; choose another place, or use --force to rename it first"
            )
        refuse_if_in_use(record)
    return record


def _steps(manifest: Manifest, where: str | None) -> Iterator[_Step]:
    """Each part with its files; one that the backup has nothing of is put aside, photographs excepted.

    Settings or beliefs that stayed would change what the restored shop answers.
    """
    for part in (Part("named", files_folder(where)), *reversed(own_parts(where))):
        place = IN_BACKUP[part.name]
        files = tuple(k for k in manifest.files if k.path == place or k.path.startswith(f"{place}/"))
        if files:
            yield _Step(part, files, part.where.with_name(f".{part.where.name}.restoring"))
        elif part.name not in ("photos", NAMED):
            yield _Step(part, (), None)


def _below(kept: KeptFile) -> str:
    """Name of a file below its part; "" where the part is that file."""
    return kept.path.partition("/")[2]


def _same(step: _Step) -> bool:
    """Whether a part lies in its place already as the backup has it; one that neither has is the same."""
    there = dict(files_below(step.part.where))
    if {_below(kept) for kept in step.files} != there.keys():
        return False
    if any(there[_below(kept)].stat().st_size != kept.size for kept in step.files):
        return False
    return all(_sha256(there[_below(kept)]) == kept.sha256 for kept in step.files)


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _refuse_there(step: _Step, file: Path, force: bool) -> None:
    place = step.part.where
    if not os.path.lexists(place) or (place.is_dir() and not any(place.iterdir())):
        return
    if file.resolve().is_relative_to(place.resolve()):
        raise BackupError(f"{file} is in {place}, which would be renamed; copy the backup elsewhere first")
    if not force:
        raise BackupError(f"{place} already exists; choose another place, or use --force to rename it first")


@contextmanager
def _alone_at_work(where: str | None) -> Iterator[None]:
    """Keep a second restore of the same shop away."""
    home = home_of(where)
    home.mkdir(parents=True, exist_ok=True)
    lock = home / f".{shop_name(where)}-restoring.lock"
    try:
        with FileLock(lock, timeout=0.1, mode=0o600):
            yield
    except Timeout as problem:
        raise BackupError(f"{home}: another restore is running here; wait until it ends") from problem
    finally:
        with suppress(OSError):
            lock.unlink(missing_ok=True)


@contextmanager
def _written(
    backup: OpenBackup, steps: list[_Step], record: Path | None, again: list[int]
) -> Iterator[Path | None]:
    """Write all parts beside their places; yield where the record waits, made ready and checked.

    again : is given how many jobs were erased again in that record.
    """
    kept_record = next((kept for kept in backup.manifest.files if kept.path == RECORD), None)
    with ExitStack() as tidy:
        for step in steps:
            if step.waiting is not None:
                _clear(step.waiting)
                tidy.callback(_clear, step.waiting)
                for kept in step.files:
                    below = _below(kept)
                    backup.take_out(kept, step.waiting / below if below else step.waiting)
        if record is None or kept_record is None:
            yield None
            return
        raw, ready = (record.with_name(f".{record.name}.{word}") for word in ("restoring", "restored"))
        for path in (raw, ready):
            _clear(path)
            tidy.callback(_clear, path)
        backup.take_out(kept_record, raw)
        # Checks it, brings an older one up to date, refuses a newer one; erases who was erased here since.
        restore(raw, ready, before=lambda copy: again.append(forget_in_copy(copy, str(record), backup.file)))
        yield ready


def _clear(path: Path) -> None:
    """Remove what an earlier restore, or this one, left beside a place."""
    if path.is_dir() and not path.is_symlink():
        shutil.rmtree(path)
    else:
        path.unlink(missing_ok=True)


def _move(
    steps: list[_Step], waiting_record: Path | None, record: Path | None, force: bool
) -> tuple[dict[PartName, Path], Path | None]:
    """Put every part in its place, the record last; what was moved goes back where one cannot be."""
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%S")
    asides: dict[PartName, Path] = {}
    with ExitStack() as undo:
        for step in steps:
            place = step.part.where
            if os.path.lexists(place):
                aside = _free(place.with_name(f"{place.name}.before-{stamp}"))
                _replace(place, aside)
                undo.callback(_replace, aside, place)
                asides[step.part.name] = aside
            if step.waiting is not None:
                _replace(step.waiting, place)
                undo.callback(_replace, place, step.waiting)
        before: Path | None = None
        if waiting_record is not None and record is not None:
            before = restore(waiting_record, record, force).aside
        undo.pop_all()
    return asides, before


def _replace(source: Path, target: Path) -> None:
    os.replace(source, target)


def _free(path: Path) -> Path:
    number = 2
    free = path
    while os.path.lexists(free):
        free, number = path.with_name(f"{path.name}-{number}"), number + 1
    return free


def _named(manifest: Manifest, where: str | None) -> Iterator[NamedAgain]:
    for book, path in manifest.named.items():
        place = files_folder(where) / path.partition("/")[2]
        variable = next(iter(ShopFiles(**{book: place}).to_environment()))
        yield NamedAgain(book, place, variable, f"--{book}")
