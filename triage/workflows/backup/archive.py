"""A backup as a file: files put into it, and every one checked before any is used."""

from __future__ import annotations

import hashlib
import os
import struct
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import BinaryIO, NoReturn

from triage.domain.plain_files import plain_file
from triage.errors import BackupError, LedgerError
from triage.workflows.backup.manifest import MANIFEST, MOST_BYTES, KeptFile, Manifest, read_manifest
from triage.workflows.backup.places import RECORD

_CHUNK = 1 << 20
# A file may unfold to so much, and to so many times its own size: records shrink five to fifteen times.
_FREE_BYTES, _TIMES = 256_000_000, 50
# What the standard library raises where a zip is damaged or of a kind that is not ours.
_DAMAGED = (
    zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError, KeyError,
    struct.error,
)  # fmt: skip
_ZIPPED = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)


class Vanished(Exception):
    """A file was taken away between being found and being read; whoever copies looks again."""


@contextmanager
def in_plain_words(file: Path) -> Iterator[None]:
    """Raise what goes wrong with a backup or a disk as one BackupError."""
    try:
        yield
    except LedgerError as problem:
        raise BackupError(str(problem)) from problem
    except OSError as problem:
        place = problem.filename2 or problem.filename or file
        raise BackupError(f"{place} cannot be used: {problem.strerror or problem}") from problem


def put_in(archive: zipfile.ZipFile, path: str, source: Path, at: datetime) -> KeptFile:
    """Copy a file into a backup.

    Raises
    ------
    Vanished : it is not there any more.
    BackupError : it cannot be read.
    """
    digest, size = hashlib.sha256(), 0
    with _opened(source) as held, archive.open(_entry(path, at), "w", force_zip64=True) as kept:
        while chunk := held.read(_CHUNK):
            digest.update(chunk)
            size += len(chunk)
            kept.write(chunk)
    return KeptFile(path, size, digest.hexdigest())


def put_manifest(archive: zipfile.ZipFile, manifest: Manifest, at: datetime) -> None:
    """Write the manifest, once all else is in."""
    archive.writestr(_entry(MANIFEST, at), manifest.to_bytes())


def _opened(source: Path) -> BinaryIO:
    try:
        return plain_file(source).open("rb")
    except FileNotFoundError as problem:
        raise Vanished from problem
    except OSError as problem:
        raise BackupError(f"{source} cannot be read: {problem.strerror}; no backup was made") from problem


def _entry(path: str, at: datetime) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(path, at.timetuple()[:6])
    entry.compress_type = zipfile.ZIP_DEFLATED
    entry.external_attr = 0o600 << 16
    return entry


@dataclass(frozen=True)
class OpenBackup:
    """A backup that is open, with its manifest read; its files are not checked yet."""

    file: Path
    archive: zipfile.ZipFile
    manifest: Manifest

    def check(self) -> None:
        """Read every file once, write none; raises BackupError for what is not as the manifest says."""
        entries: dict[str, zipfile.ZipInfo] = {}
        for entry in self.archive.infolist():
            if entry.filename in entries:
                self._refuse(f"it holds {entry.filename!r} twice")
            entries[entry.filename] = entry
        del entries[MANIFEST]
        told = {kept.path: kept for kept in self.manifest.files}
        if missing := told.keys() - entries.keys():
            self._refuse(f"{min(missing)} is missing")
        if more := entries.keys() - told.keys():
            self._refuse(f"it holds {min(more)!r}, which its manifest does not name")
        if (RECORD in told) != (self.manifest.record is not None):
            self._refuse("its manifest and its files disagree about the record")
        whole, most = (
            sum(kept.size for kept in told.values()),
            _FREE_BYTES + _TIMES * self.file.stat().st_size,
        )
        if whole > most:
            self._refuse(f"it would unpack to {whole:,} bytes; allowed for its size: {most:,}")
        for path, kept in told.items():
            if entries[path].file_size != kept.size:
                self._refuse(f"{path} does not have the length in the manifest")
            for _ in self.pieces(kept):
                pass

    def pieces(self, kept: KeptFile) -> Iterator[bytes]:
        """Bytes of a file, never more than it says; raises BackupError, for a wrong hash at the end."""
        digest, left = hashlib.sha256(), kept.size
        try:
            entry = self.archive.getinfo(kept.path)
            if entry.compress_type not in _ZIPPED or entry.flag_bits & 1:
                raise zipfile.BadZipFile("unknown compression")
            with self.archive.open(entry) as held:
                while chunk := held.read(min(_CHUNK, left + 1)):
                    left -= len(chunk)
                    if left < 0:
                        break
                    digest.update(chunk)
                    yield chunk
        except _DAMAGED as problem:
            raise BackupError(self._said(f"{kept.path} is damaged ({problem})")) from problem
        except OSError as problem:
            raise BackupError(self._said(f"it cannot be read ({problem.strerror})")) from problem
        if left:
            self._refuse(f"{kept.path} does not have the length in the manifest")
        if digest.hexdigest() != kept.sha256:
            self._refuse(f"{kept.path} was changed after the backup")

    def take_out(self, kept: KeptFile, target: Path) -> None:
        """Write a file to a new place, readable by its owner only; raises BackupError."""
        try:
            target.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            with os.fdopen(os.open(target, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "wb") as new:
                for chunk in self.pieces(kept):
                    new.write(chunk)
        except OSError as problem:
            wrong = f"cannot be written: {problem.strerror}"
            raise BackupError(f"{target} {wrong}; nothing was changed") from problem

    def _said(self, wrong: str) -> str:
        return f"{self.file}: {wrong}; nothing was changed"

    def _refuse(self, wrong: str) -> NoReturn:
        raise BackupError(self._said(wrong))


@contextmanager
def opened_backup(file: Path) -> Iterator[OpenBackup]:
    """Open a backup and read its manifest.

    Raises
    ------
    BackupError : there is none, it is no backup of a shop, or it was made by a newer program.
    """
    if not file.is_file():
        raise BackupError(f"{file} is not a file; allowed: a file made by `triage backup`")
    try:
        archive = zipfile.ZipFile(file)
    except _DAMAGED as problem:
        wrong = f"is not a readable zip file ({problem}); allowed: a file made by `triage backup`"
        raise BackupError(f"{file}: {wrong}") from problem
    with archive:
        try:
            entry = archive.getinfo(MANIFEST)
            if entry.file_size > MOST_BYTES:
                raise zipfile.BadZipFile("the manifest is too long")
            with archive.open(entry) as held:
                text = held.read(MOST_BYTES)
        except KeyError as problem:
            wrong = f"has no {MANIFEST}; allowed: a file made by `triage backup`"
            raise BackupError(f"{file}: {wrong}") from problem
        except _DAMAGED as problem:
            raise BackupError(f"{file}: the manifest is damaged ({problem})") from problem
        yield OpenBackup(file, archive, read_manifest(text, str(file)))
