"""What belongs to a shop beside its record, where each part lies, and where it lies in a backup."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Literal

from triage.ledger.opening import ledger_url
from triage.workflows.jobs.photos import PHOTO_NAME, photo_folder_at
from triage.workflows.past.remembered import mapping_file
from triage.workflows.shop.learned_chances import learned_folder
from triage.workflows.shop.own_models import own_models_file
from triage.workflows.shop.own_sets import sets_home
from triage.workflows.shop.own_settings import own_settings_file
from triage.workflows.shop.shop_files import ShopFiles

PartName = Literal["settings", "models", "import", "beliefs", "learned", "photos", "named"]
RECORD, NAMED = "record.sqlite", "named"
# Where each part lies in a backup: one file, or all that is below a folder.
IN_BACKUP: dict[PartName, str] = {
    "settings": "settings.toml",
    "models": "models.csv",
    "import": "import.toml",
    "beliefs": "beliefs",
    "learned": "learned",
    "photos": "photos",
    "named": NAMED,
}
_LONGEST = 400
ONE_FILE: frozenset[PartName] = frozenset(("settings", "models", "import"))
_FOLDERS = {place for part, place in IN_BACKUP.items() if part not in ONE_FILE}
# A name that every system can write, and that leads nowhere else.
_PIECE = re.compile(r'[^/\\:*?"<>|\x00-\x1f\x7f\ud800-\udfff]{1,200}')


@dataclass(frozen=True)
class Part:
    """One part of a shop. where : its file or folder, whether it is there or not."""

    name: PartName
    where: Path


def own_parts(where: str | None) -> tuple[Part, ...]:
    """What the program keeps beside a record; `where` as `ledger_url` takes it."""
    return (
        Part("settings", own_settings_file(where)),
        Part("models", own_models_file(where)),
        Part("import", mapping_file(where)),
        Part("beliefs", sets_home(where)),
        Part("learned", learned_folder(where)),
        Part("photos", photo_folder_at(ledger_url(where))),
    )


def record_file(where: str | None) -> Path | None:
    """The record's file; None for one on a server."""
    url = ledger_url(where)
    return Path(url.database or "").absolute() if url.get_backend_name() == "sqlite" else None


def shop_name(where: str | None) -> str:
    """What the files of a record are named after."""
    return learned_folder(where).name.removesuffix("-learned")


def home_of(where: str | None) -> Path:
    """Folder that the parts of a record lie in."""
    return learned_folder(where).parent


def files_folder(where: str | None) -> Path:
    """Folder that named files, such as a price book, are put back into."""
    return home_of(where) / f"{shop_name(where)}-files"


def named_parts(files: ShopFiles) -> Iterator[tuple[str, str, Path]]:
    """Every file or folder that was named: of which book, where it lies in a backup, and its path."""
    for item in fields(files):
        path = getattr(files, item.name)
        if path is not None:
            yield item.name, f"{NAMED}/{item.name}/{path.absolute().name}", path


def known_place(name: str) -> bool:
    """Whether a name in a backup is one that a shop's file can have, leading nowhere else."""
    if len(name) > _LONGEST:
        return False
    first, _, rest = name.partition("/")
    pieces = rest.split("/")
    if name == RECORD or name in (IN_BACKUP[part] for part in ONE_FILE):
        return True
    if first == IN_BACKUP["photos"]:
        return PHOTO_NAME.fullmatch(rest) is not None
    if first == NAMED and (len(pieces) < 2 or pieces[0] not in {item.name for item in fields(ShopFiles)}):
        return False
    return first in _FOLDERS and all(_is_plain(piece) for piece in pieces)


def _is_plain(piece: str) -> bool:
    return _PIECE.fullmatch(piece) is not None and piece == piece.strip() and not piece.endswith(".")


def files_below(place: Path) -> Iterator[tuple[str, Path]]:
    """Every file of a part: its name below `place` ("" where that is a file), and its path, in order.

    What a writer has not finished (`.tmp`, a name that begins with a dot) is passed over.

    Raises
    ------
    OSError : a folder cannot be read.
    """
    if place.is_file():
        yield "", place
        return
    if not place.is_dir():
        return
    seen: set[str] = set()
    for folder, below, names in os.walk(place, onerror=_raise, followlinks=True):
        real = os.path.realpath(folder)
        if real in seen:  # a link that leads back up
            below.clear()
            continue
        seen.add(real)
        below[:] = sorted(name for name in below if _is_finished(name))
        for name in sorted(filter(_is_finished, names)):
            path = Path(folder) / name
            if path.is_file():
                yield path.relative_to(place).as_posix(), path


def _raise(problem: OSError) -> None:
    raise problem  # a folder that cannot be read must not be passed over


def _is_finished(name: str) -> bool:
    return not name.startswith(".") and not name.endswith(".tmp")
