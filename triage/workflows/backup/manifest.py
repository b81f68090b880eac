"""What a backup holds, as its `manifest.json` says it."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, field, fields
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Field, TypeAdapter, ValidationError

from triage.errors import BackupError
from triage.workflows.backup.places import NAMED, known_place
from triage.workflows.shop.shop_files import ShopFiles

MANIFEST = "manifest.json"
# Raised when an older program could no longer put a backup back.
FORMAT = 1
# A manifest is read whole: some 200,000 files fill as much.
MOST_BYTES = 50_000_000


def _printable(text: str) -> str:
    if not text.isprintable():
        raise ValueError("text without control characters")
    return text


Count = Annotated[int, Field(ge=0, strict=True)]
Words = Annotated[str, Field(max_length=500), AfterValidator(_printable)]
# Why something is not in a backup: left out as asked or by rule, not there, changed since it was kept, or
# under a name that not every system can write.
MissingKind = Literal["record", "passcodes", "photo", "photo-changed", "named-file", "name"]


@dataclass(frozen=True)
class Missing:
    """Something of the shop that a backup does not hold. what : a job and photograph, a path, or a count."""

    kind: MissingKind
    what: Words


@dataclass(frozen=True)
class KeptFile:
    """One file of a backup: its path there, its size in bytes, the SHA-256 of its bytes."""

    path: Words
    size: Count
    sha256: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]


@dataclass(frozen=True)
class KeptRecord:
    """What the record in a backup holds."""

    jobs: Count
    entries: Count
    passcodes: bool


@dataclass(frozen=True)
class Manifest:
    """What a backup holds.

    made_at : UTC, ISO 8601. record : None where it was left out.
    named : books that were named files: which, and the place of the file or folder in the backup.
    """

    program: Words
    made_at: Words
    record: KeptRecord | None
    files: tuple[KeptFile, ...]
    named: dict[str, str] = field(default_factory=dict)
    missing: tuple[Missing, ...] = ()
    format: Count = FORMAT

    def to_bytes(self) -> bytes:
        """Write it as JSON."""
        return json.dumps(asdict(self), ensure_ascii=False, indent=1).encode("utf-8")


def read_manifest(text: bytes, name: str) -> Manifest:
    """Read a manifest; `name` is the backup's, for messages.

    Raises
    ------
    BackupError : no manifest, one of a newer program, or one that names places a shop does not have.
    """
    try:
        told: Any = json.loads(text)
    except (ValueError, RecursionError) as problem:
        raise BackupError(f"{name}: the manifest is damaged: it is not valid JSON") from problem
    number = told.get("format") if isinstance(told, dict) else None
    if isinstance(number, int) and number > FORMAT:
        raise BackupError(
            f"{name}: format {number} comes from a newer program; this one reads formats up to {FORMAT}. "
            "Install the newer program"
        )
    try:
        manifest = TypeAdapter(Manifest).validate_python(told)
    except ValidationError as problem:
        first = problem.errors()[0]
        place = ".".join(str(piece) for piece in first["loc"]) or "the top level"
        raise BackupError(f"{name}: the manifest is wrong at {place[:80]}: {first['msg']}") from problem
    if number != FORMAT:
        raise BackupError(f"{name}: the manifest has no known format; allowed: {FORMAT}")
    _check_places(manifest, name)
    return manifest


def _check_places(manifest: Manifest, name: str) -> None:
    paths = [kept.path for kept in manifest.files]
    for path in paths:
        if not known_place(path):
            raise BackupError(f"{name}: {path!r} is not a valid path of a shop's files; nothing was changed")
    if len(set(paths)) < len(paths):
        raise BackupError(f"{name}: the manifest names a file twice; nothing was changed")
    books = {item.name for item in fields(ShopFiles)}
    for book, path in manifest.named.items():
        held = any(kept == path or kept.startswith(f"{path}/") for kept in paths)
        if book not in books or not held or path.split("/")[:2] != [NAMED, book] or path.count("/") != 2:
            raise BackupError(
                f"{name}: the manifest names {book[:40]!r}, but that file is missing; nothing was changed"
            )
