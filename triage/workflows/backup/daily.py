"""One copy of the whole shop a day, in a folder that the settings name."""

from __future__ import annotations

import hashlib
import re
from datetime import date
from pathlib import Path

from filelock import FileLock, Timeout

from triage.errors import BackupError
from triage.ledger.opening import ledger_url
from triage.workflows.backup.archive import in_plain_words
from triage.workflows.backup.back_up import back_up_shop
from triage.workflows.backup.places import home_of, record_file, shop_name
from triage.workflows.jobs.erasure_list import copy_list, erasure_list
from triage.workflows.shop.shop_files import ShopFiles

# Copies of a shop that stay; of older ones the oldest go.
KEPT_COPIES = 14
_DAY = r"\d{4}-\d{2}-\d{2}"


def daily_copies(folder: str, where: str | None = None) -> tuple[Path, ...]:
    """Daily copies of this shop in a folder, the newest first; of no other shop, and nothing else.

    Raises
    ------
    BackupError : the folder is not there, or cannot be read.
    """
    home = _folder(folder)
    pattern = re.compile(re.escape(_prefix(where)) + _DAY + r"\.zip")
    with in_plain_words(home):
        return tuple(sorted((path for path in home.iterdir() if pattern.fullmatch(path.name)), reverse=True))


def copy_of_day(folder: str, day: date, where: str | None = None) -> Path:
    """The file of a day's copy, whether it is there or not; raises BackupError as `daily_copies`."""
    return _folder(folder) / f"{_prefix(where)}{day.isoformat()}.zip"


def daily_copy(
    folder: str, day: date, where: str | None = None, named: ShopFiles | None = None
) -> Path | None:
    """Make the copy of a day, and let the oldest go; None where it is there, or being made.

    Without passcodes. A record on a server is that server's to copy, and is left out.

    Raises
    ------
    BackupError : as in `back_up_shop`; the folder is not there.
    """
    file = copy_of_day(folder, day, where)
    if file.exists():
        return None
    with in_plain_words(file):
        try:
            with FileLock(home_of(where) / f".{shop_name(where)}-daily.lock", timeout=0, mode=0o600):
                if file.exists():
                    return None
                copy_list(erasure_list(ledger_url(where)), file.parent)
                back_up_shop(file, where, named, record=record_file(where) is not None)
                for old in daily_copies(folder, where)[KEPT_COPIES:]:
                    old.unlink(missing_ok=True)
        except Timeout:
            return None
    return file


def day_of(copy: Path) -> date:
    """The day that a daily copy is of."""
    return date.fromisoformat(copy.stem[-10:])


def _folder(folder: str) -> Path:
    home = Path(folder).expanduser()
    if not home.is_absolute() or not home.is_dir():
        raise BackupError(
            f"the folder for daily backups, {folder}, does not exist; allowed: the full path of a folder"
        )
    return home


def _prefix(where: str | None) -> str:
    """Beginning of a copy's name; two shops may have one folder, and records of one name."""
    url = ledger_url(where)
    record = record_file(where)
    place = f"{url.host}:{url.port}/{url.database}" if record is None else str(record.resolve())
    return f"{shop_name(where)}-{hashlib.sha256(place.encode()).hexdigest()[:8]}-"
