"""Folders of stored chances that are no posterior, or not the one that they say."""

from __future__ import annotations

import hashlib
import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

from tests.cli.hostile.case import Case, Content, circle, fifo
from triage.shipped import shipped

DEMO = shipped("models/posteriors/demo")
TOLD = json.loads((DEMO / "manifest.json").read_text(encoding="utf-8"))
DRAWS = TOLD["folder"]


def manifest(text: Content, *says: str, line: str = "chances --posterior d") -> Case:
    return Case(line, says, {"d/manifest.json": text})


def telling(
    change: Callable[[dict[str, Any]], object], *says: str, line: str = "posterior list d", code: int = 2
) -> Case:
    """The demo's draws with another manifest."""
    told = json.loads(json.dumps(TOLD))
    change(told)
    files: dict[str, Content] = {
        "d": lambda path: shutil.copytree(DEMO, path),
        "d/manifest.json": json.dumps(told),
    }
    return Case(line, says, files, code)


def holding(write: Callable[[Path], object], *says: str, line: str = "chances --posterior d") -> Case:
    """The demo's draws with another file for the success model, which the manifest knows."""

    def make(path: Path) -> None:
        shutil.copytree(DEMO, path)
        file = path / DRAWS / "success.nc"
        file.unlink()
        write(file)
        told = json.loads(json.dumps(TOLD))
        told["files"]["success"] = ["success.nc", hashlib.sha256(file.read_bytes()).hexdigest()]
        (path / "manifest.json").write_text(json.dumps(told), encoding="utf-8")

    return Case(line, says, {"d": make})


def changed(change: Callable[[xr.Dataset], xr.Dataset]) -> Callable[[Path], None]:
    def write(path: Path) -> None:
        with xr.open_dataset(DEMO / DRAWS / "success.nc", engine="h5netcdf") as held:
            change(held.load()).to_netcdf(path, engine="h5netcdf")

    return write


def zeros(path: Path) -> None:
    """Two gigabytes of nothing in a small file."""
    import h5netcdf

    with h5netcdf.File(path, "w") as file:
        file.dimensions = {"draw": 250_000_000}
        file.create_variable("kind", ("draw",), "f8", chunks=(1_000_000,), compression="gzip")


def without_last(told: dict[str, Any]) -> None:
    del told["kinds"][-1]


def earlier(make: Callable[[Path], object]) -> dict[str, Content]:
    def all_of_it(path: Path) -> None:
        shutil.copytree(DEMO, path)
        make(path / "draws-old")

    return {"d": all_of_it}


CASES = {
    "a file": Case("posterior status unit.toml", ("unit.toml",)),
    "no folder": Case("posterior health none", ("none", "run a fit first")),
    "no folder, of earlier ones": Case("posterior list none", ("none", "run a fit first")),
    "an empty manifest": manifest("", "manifest.json", "cannot be read as JSON"),
    "a manifest that is a list": manifest("[]", "schema None is not 2", line="posterior use d x"),
    "a manifest of lists in lists": manifest(
        "[" * 100_000, "cannot be read as JSON", line="posterior status d"
    ),
    "a manifest of thousands of digits": manifest('{"schema": ' + "9" * 5000 + "}", "cannot be read as JSON"),
    "a manifest in UTF-16": manifest("{}".encode("utf-16"), "cannot be read as JSON"),
    "a manifest of NUL bytes": manifest(b"\0" * 99, "cannot be read as JSON"),
    "a manifest of another schema": manifest('{"schema": 3}', "schema 3 is not 2"),
    "a manifest with nothing else": manifest('{"schema": 2}', "is not a complete manifest"),
    "a manifest that is a pipe": manifest(fifo, "manifest.json"),
    "a manifest in a circle": manifest(circle, "manifest.json"),
    "draws elsewhere": telling(
        lambda told: told.update(folder="../../etc"), "is no name of a file beside it"
    ),
    "draws in the folder above": telling(
        lambda told: told.update(folder=".."), "is no name of a file beside it"
    ),
    "draws of no name": telling(
        lambda told: told.update(folder=""), "is missing", line="chances --posterior d"
    ),
    "a file elsewhere": telling(
        lambda told: told["files"].update(success=["/etc/passwd", "0"]), "is no name of a file"
    ),
    "jobs in words": telling(lambda told: told.update(jobs="many"), "jobs"),
    "negative jobs": telling(lambda told: told.update(jobs=-5), "jobs"),
    "a day that is none": telling(lambda told: told.update(as_of="2026-02-30"), "is not a complete manifest"),
    "a day in year 0": telling(lambda told: told.update(as_of="0000-01-01"), "is not a complete manifest"),
    "a name that steers the terminal": telling(lambda told: told.update(label="\x1b[31mred"), "label"),
    "a name that turns letters round": telling(
        lambda told: told.update(label="\u202ered"), "label", line="posterior status d"
    ),
    "kinds that the draws do not have": telling(without_last, "damage", line="chances --posterior d", code=0),
    "no model": telling(
        lambda told: told.update(files={}, models={}), "success", line="assess unit.toml --posterior d"
    ),
    "no success model": telling(
        lambda told: told["files"].pop("success"), "success", line="chances --posterior d"
    ),
    "a failed fit": telling(
        lambda told: told["models"]["success"].update(passed=False),
        "failed its checks",
        line="assess unit.toml --posterior d",
    ),
    "draws that are a text": holding(lambda path: path.write_text("plain " * 99), "cannot be read"),
    "draws that are empty": holding(lambda path: path.write_bytes(b""), "cannot be read"),
    "draws that are zeros without end": holding(zeros, "of memory"),
    "draws of something else": holding(
        lambda path: xr.Dataset({"song": ("draw", np.zeros(9))}).to_netcdf(path, engine="h5netcdf"),
        "lacks kind",
    ),
    "draws of something else, to assess": holding(
        lambda path: xr.Dataset({"song": ("draw", np.zeros(9))}).to_netcdf(path, engine="h5netcdf"),
        "lacks",
        line="assess unit.toml --posterior d",
    ),
    "no draw": holding(changed(lambda held: held.isel(draw=slice(0))), "holds no draws"),
    "draws that are no numbers": holding(changed(lambda held: held * np.nan), "no finite number"),
    "draws of fewer kinds": holding(
        changed(lambda held: held.isel(kind=slice(3))), "holds no kind", line="assess unit.toml --posterior d"
    ),
    "an earlier one elsewhere": Case(
        "posterior use d ../../etc", ("holds no posterior",), earlier(lambda path: None)
    ),
    "an earlier one of an unknown name": Case(
        "posterior use d '\x1b[31m'", ("holds no posterior",), earlier(lambda path: None)
    ),
    "an earlier one that is a file": Case(
        "posterior list d", ("in use",), earlier(lambda path: path.write_text("x")), code=0
    ),
    "an earlier one that is a pipe": Case("posterior list d", ("in use",), earlier(fifo), code=0),
    "an earlier one in a circle": Case("posterior list d", ("in use",), earlier(circle), code=0),
    "an earlier one without end": Case(
        "posterior list d",
        ("manifest.json",),
        earlier(lambda path: (path.mkdir(), (path / "manifest.json").write_text("[" * 100_000))),
    ),
}
