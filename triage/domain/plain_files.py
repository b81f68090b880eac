"""Which paths may be read to their end: a pipe may never have one, a device has none."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path


def plain_file(path: Path | str) -> Path:
    """The path of a file that can be read whole.

    Raises
    ------
    OSError : it is not there, or it is a folder, a pipe or a device.
    """
    path = Path(path)
    mode = path.stat().st_mode
    if stat.S_ISDIR(mode):
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(path))
    if not stat.S_ISREG(mode):
        raise OSError(errno.EINVAL, "is a pipe or a device", str(path))
    return path
