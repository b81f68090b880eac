"""One file that holds a whole shop: record, settings, beliefs, learned chances, photographs, named files."""

from __future__ import annotations

import os
import shutil
import tempfile
import time
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from filelock import FileLock, Timeout

from triage.errors import BackupError
from triage.ledger.backup import back_up, erase_passcodes
from triage.ledger.export import whole_or_not_at_all
from triage.ledger.opening import ledger_url, open_ledger
from triage.shipped import program_version
from triage.workflows.backup.archive import Vanished, in_plain_words, opened_backup, put_in, put_manifest
from triage.workflows.backup.manifest import KeptFile, KeptRecord, Manifest, Missing
from triage.workflows.backup.places import (
    IN_BACKUP,
    RECORD,
    files_below,
    known_place,
    named_parts,
    own_parts,
    record_file,
)
from triage.workflows.shop.shop_files import ShopFiles

# How often a part that is written meanwhile is read again.
_TRIES = 3
# Locked while a copy of the record is in use, and how old a copy is at least that nobody locks, in seconds.
_LIVES, _JUST_MADE = "lives.lock", 60.0


@dataclass(frozen=True)
class ShopBackup:
    """A backup that was made and read through. size : in bytes."""

    file: Path
    size: int
    manifest: Manifest


@dataclass(frozen=True)
class _Found:
    """One file of the shop: its place in the backup, its path, and what tells that it was written again."""

    path: str
    source: Path
    stamp: tuple[int, int]


@dataclass(frozen=True)
class _RecordCopy:
    """The copy of a record. photos : file name and hash by job, as the record names them."""

    file: Path
    kept: KeptRecord
    passcodes_erased: int
    photos: tuple[tuple[str, str, str], ...]


def back_up_shop(
    file: Path,
    where: str | None = None,
    named: ShopFiles | None = None,
    *,
    force: bool = False,
    passcodes: bool = False,
    record: bool = True,
    tell: Callable[[int, int], None] = lambda done, of: None,
) -> ShopBackup:
    """Write all that a shop has kept into one file, whole or not at all, readable by its owner only.

    Parameters
    ----------
    where : the record, as `ledger_url` takes it; the default one when None.
    named : books that were named, such as a price book.
    force : replace a file that is there.
    passcodes : keep the owners' passcodes in it too.
    record : keep the record; without it, everything else.
    tell : is told how many files of how many are in it.

    Raises
    ------
    BackupError : the record is kept by a server, there is none, or a file cannot be read or written.
    """
    named = named or ShopFiles()
    with in_plain_words(file):
        url = ledger_url(where)
        if record and url.get_backend_name() != "sqlite":
            raise BackupError(
                f"{url.render_as_string()} is on a PostgreSQL server; copy the record with pg_dump, "
                "and back up everything else with --without-record"
            )
        _refuse_own(file, where, named)
        made: list[Manifest] = []
        whole_or_not_at_all(
            file, force, lambda waiting: made.append(_write(waiting, where, named, passcodes, record, tell))
        )
        return ShopBackup(file, file.stat().st_size, made[0])


def _refuse_own(file: Path, where: str | None, named: ShopFiles) -> None:
    """A backup must neither replace a part of the shop nor lie in one."""
    own = [part.where for part in own_parts(where)] + [path for _, _, path in named_parts(named)]
    if (kept := record_file(where)) is not None:
        own.append(kept)
    for path in own:
        if file.resolve().is_relative_to(path.resolve()):
            raise BackupError(f"{file} is part of the shop's own files ({path}); choose another place")


def _write(
    waiting: Path,
    where: str | None,
    named: ShopFiles,
    passcodes: bool,
    record: bool,
    tell: Callable[[int, int], None],
) -> Manifest:
    with _copied(where, passcodes) if record else _no_record() as copy:
        for _ in range(_TRIES):
            try:
                found, missing = _found(where, named)
                manifest = _write_once(waiting, found, missing, copy, named, tell)
                if _steady(found) == _steady(_found(where, named)[0]):
                    break
            except Vanished:
                continue
        else:
            raise BackupError(
                "the shop's files kept changing during the backup; no backup was made. Try again later"
            )
    with opened_backup(waiting) as backup:  # what cannot be put back is no backup
        backup.check()
    return manifest


def _steady(found: list[_Found]) -> list[_Found]:
    """What must not change while it is copied: photographs are only ever added, after the record was."""
    return [one for one in found if not one.path.startswith("photos/")]


def _write_once(
    waiting: Path,
    found: list[_Found],
    missing: list[Missing],
    copy: _RecordCopy | None,
    named: ShopFiles,
    tell: Callable[[int, int], None],
) -> Manifest:
    now = datetime.now(UTC)
    kept: list[KeptFile] = []
    handle = os.open(waiting, os.O_CREAT | os.O_TRUNC | os.O_RDWR, 0o600)
    with os.fdopen(handle, "w+b") as file:
        with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
            if copy is not None:
                kept.append(put_in(archive, RECORD, copy.file, now))
            for done, one in enumerate(found, start=1):
                kept.append(put_in(archive, one.path, one.source, now))
                tell(done, len(found))
            paths = {one.path for one in kept}
            manifest = Manifest(
                program=program_version(),
                made_at=now.isoformat(timespec="seconds"),
                record=copy.kept if copy else None,
                files=tuple(kept),
                named={
                    book: place
                    for book, place, _ in named_parts(named)
                    if any(path == place or path.startswith(f"{place}/") for path in paths)
                },
                missing=(*missing, *_missing(copy, kept)),
            )
            put_manifest(archive, manifest, now)
        file.flush()
        os.fsync(file.fileno())
    return manifest


def _found(where: str | None, named: ShopFiles) -> tuple[list[_Found], list[Missing]]:
    """Every file of the shop but its record, and what cannot be in a backup."""
    found, missing = [], []
    places = [(IN_BACKUP[part.name], part.where) for part in own_parts(where)]
    for _, place, path in named_parts(named):
        places.append((place, path))
        if not path.is_file() and not path.is_dir():
            missing.append(Missing("named-file", _told(path)))
    try:
        for place, whole in places:
            for below, source in files_below(whole):
                inside = f"{place}/{below}" if below else place
                if known_place(inside):
                    stat = source.stat()
                    found.append(_Found(inside, source, (stat.st_size, stat.st_mtime_ns)))
                elif place != IN_BACKUP["photos"]:  # what is no photograph was never kept there
                    missing.append(Missing("name", _told(source)))
    except FileNotFoundError as problem:
        raise Vanished from problem
    except OSError as problem:
        raise BackupError(
            f"{problem.filename} cannot be read: {problem.strerror}; no backup was made"
        ) from problem
    return found, missing


def _told(what: object) -> str:
    """A path or label as text that can be printed."""
    return "".join(sign if sign.isprintable() else "?" for sign in str(what))[:500]


def _missing(copy: _RecordCopy | None, kept: list[KeptFile]) -> Iterator[Missing]:
    if copy is None:
        yield Missing("record", "")
        return
    if copy.passcodes_erased:
        yield Missing("passcodes", str(copy.passcodes_erased))
    there = {one.path: one.sha256 for one in kept}
    for job, name, sha256 in copy.photos:
        held = there.get(f"{IN_BACKUP['photos']}/{name}")
        if held != sha256:
            yield Missing("photo-changed" if held else "photo", _told(f"{job}: {name}"))


@contextmanager
def _no_record() -> Iterator[None]:
    yield None


@contextmanager
def _copied(where: str | None, passcodes: bool) -> Iterator[_RecordCopy | None]:
    """A checked copy of the record, for as long as it is needed.

    It lies beside the record: until they are erased, the passcodes are in it.
    """
    ledger = open_ledger(where, create=False)
    try:
        beside = Path(ledger.engine.url.database or "").absolute()
        prefix = f".{beside.stem}-copying-"
        _forget_killed(beside.parent, prefix)
        scratch = Path(tempfile.mkdtemp(prefix=prefix, dir=beside.parent))
        lives = FileLock(scratch / _LIVES, mode=0o600)
        try:
            lives.acquire()
            copy = back_up(ledger, scratch / RECORD)
            with ledger.reading() as reading:  # after the copy, so that none that it names is passed over
                photos = reading.photos()
            erased = 0 if passcodes else erase_passcodes(copy.file)
            yield _RecordCopy(
                copy.file,
                KeptRecord(copy.jobs, copy.entries, passcodes),
                erased,
                tuple((job, photo.path, photo.sha256) for job, photo in photos),
            )
        finally:
            lives.release()
            shutil.rmtree(scratch, ignore_errors=True)
    finally:
        ledger.close()


def _forget_killed(home: Path, prefix: str) -> None:
    """Remove what backups that were killed left: passcodes may be in it, which are erased elsewhere."""
    for old in home.glob(f"{prefix}*"):
        with suppress(OSError, Timeout):
            if time.time() - old.stat().st_mtime > _JUST_MADE:
                with FileLock(old / _LIVES, timeout=0, mode=0o600):
                    for path in old.glob(f"{RECORD}*"):
                        path.unlink()
                shutil.rmtree(old)
