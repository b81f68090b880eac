"""Photographs of a job, kept as files beside the record under the hash of their bytes.

An uploaded name never becomes a path, and a path read from the record is
followed only where it is a hash of this folder.
"""

from __future__ import annotations

import hashlib
import io
import os
import re
import tempfile
import warnings
from pathlib import Path

from sqlalchemy.engine import URL

from triage.domain.job.records import Photo
from triage.errors import Fault, InputError, LedgerError
from triage.ledger.opening import folder_of_record
from triage.ledger.record import Ledger

MOST_MEGABYTES = 12
_MOST_PIXELS = 60_000_000
_ENDINGS = {"PNG": "png", "JPEG": "jpg"}
# What a photograph's file is called: the hash of its bytes.
PHOTO_NAME = re.compile(r"[0-9a-f]{64}\.(png|jpg)")
_ALLOWED = f"a PNG or JPEG picture of at most {MOST_MEGABYTES} MB"


def photo_folder(ledger: Ledger) -> Path:
    """Folder of a record's photographs: beside a file, in the user's data folder for a server.

    `$TRIAGE_PHOTOS` outranks both.
    """
    return photo_folder_at(ledger.engine.url)


def photo_folder_at(url: URL) -> Path:
    """The same by the record's address, whether there is a record or not."""
    if given := os.environ.get("TRIAGE_PHOTOS", ""):
        return Path(given)
    name = url.database or "record"
    name = Path(name).stem if url.get_backend_name() == "sqlite" else re.sub("[^0-9A-Za-z-]", "-", name)
    return folder_of_record(url) / f"{name}-photos"


def keep_photo(folder: Path, content: bytes, caption: str = "") -> Photo:
    """Keep the bytes of a picture; the same picture is kept once.

    Raises
    ------
    InputError : no picture of a kind or size that is kept.
    LedgerError : the folder cannot be written.
    """
    sha256 = hashlib.sha256(content).hexdigest()
    path = folder / f"{sha256}.{_ending(content)}"
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        if not path.exists():
            with tempfile.NamedTemporaryFile(dir=folder, delete=False) as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            os.replace(file.name, path)
    except OSError as problem:
        raise LedgerError(f"the photo cannot be saved in {folder}: {problem.strerror}") from problem
    return Photo(path.name, sha256, caption)


def photo_bytes(folder: Path, photo: Photo) -> bytes:
    """Bytes of a kept photograph.

    Raises
    ------
    LedgerError : it is not in the folder, or is not what was kept.
    """
    if not PHOTO_NAME.fullmatch(photo.path):
        raise LedgerError("this photo's path is outside the photo folder")
    try:
        content = (folder / photo.path).read_bytes()
    except OSError as problem:
        raise LedgerError(f"the photo {photo.path[:12]} cannot be read: {problem.strerror}") from problem
    if hashlib.sha256(content).hexdigest() != photo.sha256:
        raise LedgerError(f"the photo {photo.path[:12]} changed after it was saved")
    return content


def _ending(content: bytes) -> str:
    """Ending by what the bytes are, whatever the file was called."""
    from PIL import Image

    wrong = "is not a readable picture"
    if len(content) > MOST_MEGABYTES * 1_000_000:
        wrong = f"is {len(content) / 1e6:.0f} MB"
    else:
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore", Image.DecompressionBombWarning)
                with Image.open(io.BytesIO(content), formats=tuple(_ENDINGS)) as picture:
                    if picture.width * picture.height <= _MOST_PIXELS:
                        ending = _ENDINGS[picture.format or ""]
                        picture.verify()
                        return ending
                    wrong = f"has {picture.width} by {picture.height} pixels"
        except (OSError, SyntaxError, ValueError, Image.DecompressionBombError):
            pass
    raise InputError([Fault("the photo", None, "file", wrong, _ALLOWED)])
