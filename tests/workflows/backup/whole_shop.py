"""A small shop that has kept something of every kind, and what lies in its folder."""

from __future__ import annotations

import hashlib
import io
import json
import shutil
import sqlite3
import zipfile
from contextlib import closing
from datetime import date
from pathlib import Path

from PIL import Image

from triage.domain.catalogue import load_catalogue
from triage.domain.job.records import FoundDamage, Intake
from triage.ledger.opening import open_ledger
from triage.priors.saved_sets import save_set
from triage.shipped import shipped
from triage.workflows.jobs.photos import keep_photo, photo_folder
from triage.workflows.shop.learned_chances import learned_folder
from triage.workflows.shop.own_sets import choose_set, sets_home
from triage.workflows.shop.own_settings import keep_settings
from triage.workflows.shop.shop import DEMO_POSTERIOR, DEMO_PRIORS
from triage.workflows.shop.shop_files import ShopFiles

CODE = "heron-7731-lantern"
FORGOTTEN = "otter-0042-candle"


def picture(colour):
    held = io.BytesIO()
    Image.new("RGB", (4, 3), colour).save(held, "PNG")
    return held.getvalue()


def make_shop():
    """Fill the default record's place; the paths of its two photographs."""
    ledger = open_ledger()
    photos = photo_folder(ledger)
    kept = [keep_photo(photos, picture(colour)) for colour in ("red", "teal")]
    with ledger.writing("ada") as writing:
        first = writing.open_job("SL-0001", "walk-in", "EUR", Intake(date(2026, 3, 2), "grey tablet"))
        second = writing.open_job("SL-0002", "bought", "EUR", Intake(date(2026, 3, 3), "x" * 2000))
        for damage in range(200):
            writing.append(second, FoundDamage("frame-bent", note=f"note {damage}"))
        for photo in kept:
            writing.append(first, photo)
        writing.keep_passcode(first, CODE)
        writing.keep_passcode(second, FORGOTTEN)
    with ledger.writing("ada") as writing:
        writing.erase_passcode(second)
    ledger.close()
    keep_settings({"bench_rate": 77.0, "shop": "Saltmarsh Lane"})
    save_set(sets_home() / "careful", load_catalogue(), [], shipped(DEMO_PRIORS))
    choose_set("careful")
    learned = learned_folder()
    shutil.copytree(shipped(DEMO_POSTERIOR), learned)
    (learned / "draws-earlier").mkdir()
    (learned / "draws-earlier" / "success.h5").write_bytes(b"an earlier fit" * 50)
    (learned / "writing-1.tmp").mkdir()
    (learned / "writing-1.tmp" / "half").write_bytes(b"half a fit")
    return [photos / photo.path for photo in kept]


def named_files(folder: Path) -> ShopFiles:
    """A price book and a folder of beliefs that were named when the pages were started."""
    folder.mkdir()
    shutil.copy(shipped("models/shop/demo-prices.toml"), folder / "prices 2026.toml")
    shutil.copytree(shipped(DEMO_PRIORS), folder / "stated")
    return ShopFiles(prices=folder / "prices 2026.toml", priors=folder / "stated")


def listing(folder: Path) -> dict[str, str]:
    """SHA-256 of every file below a folder; a record's by what is in it, not by its pages."""
    return {
        path.relative_to(folder).as_posix(): told(path)
        for path in sorted(folder.rglob("*"))
        if path.is_file() and not path.name.endswith(("-wal", "-shm"))
    }


def told(path: Path) -> str:
    return hashlib.sha256(dump(path).encode() if is_record(path) else path.read_bytes()).hexdigest()


def is_record(path: Path) -> bool:
    return path.read_bytes()[:15] == b"SQLite format 3"


def dump(path: Path, passcodes: bool = True) -> str:
    """All that a record says, as SQL."""
    with closing(sqlite3.connect(path)) as connection:
        lines = list(connection.iterdump())
    return "\n".join(line for line in lines if passcodes or 'INSERT INTO "passcode"' not in line)


def rewrite(source, target, drop=lambda path: False, manifest=lambda told: None, contents=None, more=()):
    """Write a backup anew with something changed in it; the hashes stay as they were."""
    contents = contents or {}
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new:
        told = json.loads(old.read("manifest.json"))
        told["files"] = [one for one in told["files"] if not drop(one["path"])]
        manifest(told)
        for path in old.namelist():
            if path != "manifest.json" and not drop(path):
                new.writestr(path, contents.get(path, old.read(path)))
        for path, content in more:
            new.writestr(path, content)
        new.writestr("manifest.json", json.dumps(told))
