"""Posterior draws on disk: one netCDF file a model, and a manifest that points at them.

A save writes the draws into a folder named after their contents and then
replaces `manifest.json` in one step, so a reader sees the old posterior or the
new one, never half of one. Earlier draws stay beside it, each folder with its
own manifest, so that `versions.py` can go back to them. Nothing is ever pickled.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path

import xarray as xr

from triage.domain.catalogue import Catalogue
from triage.domain.plain_files import plain_file
from triage.errors import PosteriorError, StalePosteriorError
from triage.posterior.contents import contents_problem
from triage.posterior.manifest import SCHEMA, Manifest, manifest_from, structure_digest

MANIFEST = "manifest.json"
# Full fits kept in a folder, and quick updates beside them.
KEEP, KEEP_UPDATES = 5, 2
# Draws of one model: some hundred times those of the largest shop tried.
_MOST_BYTES = 1_000_000_000


@dataclass(frozen=True)
class Posterior:
    """Draws of every outcome model.

    draws : by model, a Dataset of float64 variables with dimensions (draw, ...).
    manifest : where they came from.
    """

    draws: dict[str, xr.Dataset]
    manifest: Manifest

    @property
    def source(self) -> str:
        """What stands behind the draws, in words for a screen."""
        told = self.manifest
        if told.models and len(told.models) == len(told.belief_only):
            return "assumptions only"
        source = told.label or f"{told.jobs:,} past jobs up to {told.as_of}"
        if "success" in (told.refused if told.label else told.belief_only):
            return f"assumptions only (other figures: {source})"
        return source


def save_posterior(posterior: Posterior, folder: Path) -> Manifest:
    """Store draws as 32-bit floats, compressed, and make them the folder's current ones.

    Parameters
    ----------
    folder : made if need be. Posteriors already there stay: the last `KEEP` full fits,
        the last `KEEP_UPDATES` updates of them, and what these were made from.

    Returns
    -------
    Manifest : as written, with file names and their hashes.
    """
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    _keep_manifest_of_current(folder)
    with tempfile.TemporaryDirectory(prefix="writing-", suffix=".tmp", dir=folder) as name:
        scratch = Path(name) / "draws"
        scratch.mkdir()
        files = {}
        for model, draws in posterior.draws.items():
            path = scratch / f"{model}.nc"
            encoding = {v: {"dtype": "float32", "zlib": True, "complevel": 6} for v in draws.data_vars}
            draws.to_netcdf(path, engine="h5netcdf", encoding=encoding)
            files[model] = (path.name, _sha256(path))
        told = posterior.manifest
        named: list[object] = [*sorted(files.items())]
        if told.update is not None:  # jobs that tell nothing leave the full fit's draws as they are
            named.append((told.update, told.as_of))
        contents = hashlib.sha256(repr(named).encode()).hexdigest()[:12]
        now = datetime.now(UTC).isoformat(timespec="microseconds")
        manifest = replace(posterior.manifest, folder=f"draws-{contents}", files=files, stored_at=now)
        (scratch / MANIFEST).write_text(manifest_text(manifest), encoding="utf-8")
        if (folder / manifest.folder).exists():
            shutil.rmtree(folder / manifest.folder)
        os.replace(scratch, folder / manifest.folder)
        (Path(name) / MANIFEST).write_text(manifest_text(manifest), encoding="utf-8")
        os.replace(Path(name) / MANIFEST, folder / MANIFEST)
    for old in _superseded(folder, manifest):
        shutil.rmtree(old)
    return manifest


def manifest_text(manifest: Manifest) -> str:
    """Text of a manifest file."""
    return json.dumps(manifest.to_json(), indent=1, sort_keys=True) + "\n"


def stored_folders(folder: Path) -> list[Path]:
    """Folders of draws, the one stored last first; those without a manifest last."""

    def stored(draws: Path) -> str:
        try:
            return load_manifest(draws).stored_at
        except PosteriorError:
            return ""

    return sorted(Path(folder).glob("draws-*"), key=stored, reverse=True)


def _superseded(folder: Path, current: Manifest) -> list[Path]:
    """Folders of draws that need not be kept any longer."""
    fits: list[Path] = []
    updates: list[Path] = []
    needed = {current.folder}
    for draws in stored_folders(folder):
        try:
            update = load_manifest(draws).update
        except PosteriorError:
            update = None
        (fits if update is None else updates).append(draws)
        if update is not None and len(updates) <= KEEP_UPDATES:
            needed.add(update.fitted)
    return [draws for draws in (*fits[KEEP:], *updates[KEEP_UPDATES:]) if draws.name not in needed]


def _keep_manifest_of_current(folder: Path) -> None:
    """Give the draws in use a manifest of their own, where an older program gave them none."""
    try:
        manifest = load_manifest(folder)
    except PosteriorError:
        return
    draws = folder / manifest.folder
    if manifest.folder.startswith("draws-") and draws.is_dir() and not (draws / MANIFEST).exists():
        (draws / MANIFEST).write_text(manifest_text(manifest), encoding="utf-8")


def load_manifest(folder: Path) -> Manifest:
    """Read the manifest of a stored posterior.

    Raises
    ------
    PosteriorError : it is missing, not readable, or of another schema.
    """
    path = Path(folder) / MANIFEST
    try:
        values = json.loads(plain_file(path).read_text(encoding="utf-8"))
    except FileNotFoundError as problem:
        raise PosteriorError(f"{path}: there is no stored posterior here; run a fit first") from problem
    except (OSError, UnicodeDecodeError, ValueError, RecursionError) as problem:
        raise PosteriorError(f"{path}: cannot be read as JSON ({problem}); fit again") from problem
    if not isinstance(values, dict) or values.get("schema") != SCHEMA:
        found = values.get("schema") if isinstance(values, dict) else None
        raise PosteriorError(f"{path}: schema {found!r} is not {SCHEMA}, which this version reads; fit again")
    try:
        return manifest_from(values)
    except (KeyError, TypeError, ValueError, AttributeError) as problem:
        raise PosteriorError(f"{path}: is not a complete manifest ({problem}); fit again") from problem


def load_posterior(folder: Path, catalogue: Catalogue, models: Iterable[str] | None = None) -> Posterior:
    """Read stored draws and check that they belong to a catalogue.

    Parameters
    ----------
    models : which models to read; all of them when None.

    Raises
    ------
    StalePosteriorError : the draws were fitted for another catalogue.
    PosteriorError : a file is missing, truncated or not the one the manifest names.
    """
    return load_version(Path(folder), load_manifest(folder), catalogue, models)


def load_version(
    folder: Path, manifest: Manifest, catalogue: Catalogue, models: Iterable[str] | None = None
) -> Posterior:
    """Read the draws of one of a folder's posteriors, in use or kept; as `load_posterior`."""
    check_catalogue(folder / MANIFEST, manifest, catalogue)
    wanted = list(manifest.files if models is None else models)
    for model in wanted:
        if model not in manifest.files:
            raise PosteriorError(f"{folder / MANIFEST}: names no draws of {model}; fit again")
    check_files(folder, manifest, wanted)
    draws = {}
    for model in wanted:
        file, digest = manifest.files[model]
        path = folder / manifest.folder / file
        read = _read(path, digest)
        if problem := contents_problem(read, catalogue):
            raise PosteriorError(f"{path}: {problem}; fit again")
        draws[model] = read.astype("float64")  # a copy
    return Posterior(draws, manifest)


@lru_cache(maxsize=12)
def _read(path: Path, digest: str) -> xr.Dataset:
    """Read a file whose contents have this digest: once, as it takes half the time of opening a shop."""
    try:
        with xr.open_dataset(path, engine="h5netcdf") as file:
            if (
                file.nbytes > _MOST_BYTES
            ):  # said before it is unfolded: a small file may hold a great many zeros
                raise PosteriorError(f"{path}: would take {file.nbytes / 1e9:.1f} GB of memory; fit again")
            return file.load()
    except (OSError, ValueError, KeyError) as problem:
        raise PosteriorError(f"{path}: cannot be read ({problem}); fit again") from problem


def check_files(folder: Path, manifest: Manifest, models: Iterable[str] | None = None) -> None:
    """Check that draws are there, byte for byte as they were stored; raises PosteriorError."""
    for model in manifest.files if models is None else models:
        file, digest = manifest.files[model]
        path = Path(folder) / manifest.folder / file
        if not path.is_file():
            raise PosteriorError(f"{path}: is missing; fit again")
        if _sha256(path) != digest:
            raise PosteriorError(f"{path}: is truncated or was changed since the fit; fit again")


def check_catalogue(path: Path, manifest: Manifest, catalogue: Catalogue) -> None:
    """Check that draws belong to a catalogue; raises StalePosteriorError."""
    if manifest.structure == structure_digest(catalogue):
        return
    here, there = set(catalogue.kinds), set(manifest.kinds)
    parts = []
    for words, slugs in (("not in the fit", here - there), ("not in the catalogue", there - here)):
        if slugs:
            shown = sorted(slugs)
            more = f" and {len(shown) - 5} more" if len(shown) > 5 else ""
            parts.append(f"{words}: {', '.join(shown[:5])}{more}")
    why = "; ".join(parts) or "the same kinds, in other families or with other methods"
    raise StalePosteriorError(f"{path}: fitted for another catalogue ({why}); fit again with this catalogue")


def _sha256(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()
