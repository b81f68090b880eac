"""Earlier posteriors of a folder, and the way back to one of them."""

from __future__ import annotations

import os
import tempfile
from dataclasses import dataclass
from pathlib import Path

from triage.errors import PosteriorError, nearest
from triage.posterior.manifest import Manifest
from triage.posterior.store import MANIFEST, check_files, load_manifest, manifest_text, stored_folders


@dataclass(frozen=True)
class Version:
    """One stored posterior of a folder. name : of its folder of draws."""

    name: str
    manifest: Manifest
    in_use: bool


def versions(folder: Path) -> tuple[Version, ...]:
    """Posteriors of a folder, the one stored last first.

    Raises
    ------
    PosteriorError : there is none in use.
    """
    current = load_manifest(folder)
    found = []
    for draws in stored_folders(folder):
        if draws.name == current.folder:
            found.append(Version(draws.name, current, True))
        elif (draws / MANIFEST).is_file():
            found.append(Version(draws.name, load_manifest(draws), False))
    return tuple(found)


def version_named(folder: Path, name: str) -> Version:
    """The posterior of a folder with this name of draws, with or without "draws-".

    Raises
    ------
    PosteriorError : there is none.
    """
    held = {version.name: version for version in versions(folder)}
    name = name if name.startswith("draws-") else f"draws-{name}"
    if name not in held:
        known = ", ".join(held) or "none"
        raise PosteriorError(f"{folder}: holds no posterior {name!r}{nearest(name, held)}; stored: {known}")
    return held[name]


def last_full_fit(folder: Path) -> Manifest:
    """The full fit that the posterior in use is, or was updated from.

    Raises
    ------
    PosteriorError : none is in use, or the full fit is no longer kept.
    """
    manifest = load_manifest(folder)
    return version_named(folder, manifest.update.fitted).manifest if manifest.update else manifest


def use_version(folder: Path, name: str) -> Manifest:
    """Make a stored posterior the one in use, in one step; the one in use until now stays.

    Raises
    ------
    PosteriorError : there is no such posterior, or its files are not what was stored.
    """
    folder = Path(folder)
    manifest = version_named(folder, name).manifest
    check_files(folder, manifest)
    with tempfile.TemporaryDirectory(prefix="writing-", suffix=".tmp", dir=folder) as scratch:
        (Path(scratch) / MANIFEST).write_text(manifest_text(manifest), encoding="utf-8")
        os.replace(Path(scratch) / MANIFEST, folder / MANIFEST)
    return manifest
