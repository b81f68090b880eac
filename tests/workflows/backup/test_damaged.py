"""A backup that is damaged, made to harm or of a newer program is refused in a sentence; nothing changes."""

from __future__ import annotations

import hashlib
import json
import shutil
import sqlite3
import zipfile
from contextlib import closing

import pytest

from tests.workflows.backup.whole_shop import listing, rewrite
from triage.errors import BackupError
from triage.workflows.backup import restore as restoring
from triage.workflows.backup.restore import restore_shop
from triage.workflows.shop.own_settings import keep_settings


def kept_as(path, content):
    return {"path": path, "size": len(content), "sha256": hashlib.sha256(content).hexdigest()}


def another(path, content=b"x"):
    """A file more, in the manifest too, so that only its place is wrong."""
    return lambda kept, bad: rewrite(
        kept, bad, manifest=lambda told: told["files"].append(kept_as(path, content)), more=[(path, content)]
    )


def zeros(kept, bad):
    """Six hundred megabytes of nothing: half a megabyte as a zip."""
    size = 600_000_000
    with zipfile.ZipFile(bad, "w", zipfile.ZIP_DEFLATED) as new:
        with new.open("beliefs/a/b.toml", "w", force_zip64=True) as entry:
            for _ in range(20):
                entry.write(bytes(size // 20))
        told = {"format": 1, "program": "x", "made_at": "x", "record": None, "named": {}, "missing": []}
        told["files"] = [{"path": "beliefs/a/b.toml", "size": size, "sha256": "0" * 64}]
        new.writestr("manifest.json", json.dumps(told))


def understated(kept, bad):
    """A file that says it is short, in the zip and in the manifest, and is not."""
    path, content = "beliefs/a/b.toml", bytes(3_000_000)
    short = kept_as(path, content) | {"size": 10}
    rewrite(kept, bad, manifest=lambda told: told["files"].append(short), more=[(path, content)])
    with zipfile.ZipFile(bad) as held:
        local = held.getinfo(path).header_offset
    raw = bytearray(bad.read_bytes())
    central = raw.rfind(path.encode()) - 46
    for place in (local + 22, central + 24):  # the unpacked size in both headers
        assert int.from_bytes(raw[place : place + 4], "little") == len(content)
        raw[place : place + 4] = (10).to_bytes(4, "little")
    bad.write_bytes(raw)


def cut(kept, bad):
    bad.write_bytes(kept.read_bytes()[: kept.stat().st_size // 2])


def flipped(kept, bad):
    with zipfile.ZipFile(kept) as held:
        entry = held.getinfo("record.sqlite")
    raw = bytearray(kept.read_bytes())
    middle = entry.header_offset + 40 + entry.compress_size // 2
    raw[middle] ^= 0xFF
    bad.write_bytes(raw)


def newer_record(kept, bad):
    with zipfile.ZipFile(kept) as held:
        held.extract("record.sqlite", bad.parent)
    file = bad.parent / "record.sqlite"
    with closing(sqlite3.connect(file)) as connection:
        connection.execute("INSERT INTO migration VALUES (9999, 'later', '2030-01-01', '9')")
        connection.commit()
    content = file.read_bytes()
    file.unlink()
    right = kept_as("record.sqlite", content)

    def manifest(told):
        told["files"] = [right if one["path"] == "record.sqlite" else one for one in told["files"]]

    rewrite(kept, bad, manifest=manifest, contents={"record.sqlite": content})


def twice(kept, bad):
    shutil.copy(kept, bad)
    with zipfile.ZipFile(bad, "a") as held:
        pytest.warns(UserWarning, held.writestr, "settings.toml", "shop = 'other'")


SAYS = {
    "not there": (lambda kept, bad: None, "is not a file"),
    "a folder": (lambda kept, bad: bad.mkdir(), "is not a file"),
    "empty": (lambda kept, bad: bad.write_bytes(b""), "not a readable zip"),
    "text": (lambda kept, bad: bad.write_text("plain text " * 500), "not a readable zip"),
    "cut short": (cut, "not a readable zip"),
    "another zip": (lambda kept, bad: zipfile.ZipFile(bad, "w").close(), r"has no manifest\.json"),
    "a bit flipped": (flipped, r"record\.sqlite is (damaged|not)"),
    "other bytes": (
        lambda kept, bad: rewrite(kept, bad, contents={"beliefs/in-use.txt": "foolish"}),
        "changed after the backup",
    ),
    "longer": (
        lambda kept, bad: rewrite(kept, bad, contents={"beliefs/in-use.txt": "careful2"}),
        "does not have the length",
    ),
    "an entry gone": (
        lambda kept, bad: rewrite(
            kept, bad, manifest=lambda told: told["files"].append(kept_as("beliefs/x/y.toml", b"1"))
        ),
        r"beliefs/x/y\.toml is missing",
    ),
    "an entry more": (
        lambda kept, bad: rewrite(kept, bad, more=[("beliefs/x/y.toml", "1")]),
        "its manifest does not name",
    ),
    "an entry twice": (twice, "twice"),
    "up": (another("../outside.txt"), "not a valid path of a shop's files"),
    "up from a known folder": (another("beliefs/../../outside.txt"), "not a valid path of a shop's files"),
    "from the root": (another("/outside.txt"), "not a valid path of a shop's files"),
    "a drive": (another("beliefs/C:/outside.txt"), "not a valid path of a shop's files"),
    "the other slash": (another("beliefs/..\\outside.txt"), "not a valid path of a shop's files"),
    "no known place": (another("outside.txt"), "not a valid path of a shop's files"),
    "a photograph by name": (another("photos/holiday.png"), "not a valid path of a shop's files"),
    "below a file": (another("settings.toml/x"), "not a valid path of a shop's files"),
    "a book that is none": (
        lambda kept, bad: rewrite(kept, bad, manifest=lambda told: told["named"].update(shop="beliefs")),
        "but that file is missing",
    ),
    "newer format": (
        lambda kept, bad: rewrite(kept, bad, manifest=lambda told: told.update(format=2, files="other")),
        "newer program",
    ),
    "no known format": (
        lambda kept, bad: rewrite(kept, bad, manifest=lambda told: told.pop("format")),
        "no known format",
    ),
    "no manifest of ours": (
        lambda kept, bad: rewrite(kept, bad, manifest=lambda told: told["files"][0].update(size=-1)),
        "manifest is wrong",
    ),
    "newer record": (newer_record, "newer program"),
    "a record less": (
        lambda kept, bad: rewrite(kept, bad, manifest=lambda told: told.update(record=None)),
        "disagree",
    ),
    "a bomb": (zeros, "unpack to 600,000,000 bytes"),
    "understated": (understated, r"b\.toml is (damaged|not)"),
}


@pytest.mark.parametrize("harm", SAYS)
def test_what_is_no_whole_backup_is_refused_in_a_sentence_and_nothing_changes(kept, home, tmp_path, harm):
    spoil, said = SAYS[harm]
    keep_settings({"bench_rate": 12.0})
    bad = tmp_path / "bad.zip"
    spoil(kept, bad)
    before, around = listing(home), sorted(path.name for path in tmp_path.iterdir())
    with pytest.raises(BackupError, match=said) as refusal:
        restore_shop(bad, force=True)
    assert "\n" not in str(refusal.value) and refusal.value.exit_code == 2
    assert listing(home) == before and sorted(path.name for path in tmp_path.iterdir()) == around


def test_reading_stops_at_the_length_that_was_said(kept, tmp_path):
    """Both the zip and the manifest may lie about a length: no more than that is ever read."""
    bad = tmp_path / "bad.zip"
    content = bytes(3_000_000)
    another("beliefs/a/b.toml", content)(kept, bad)
    with restoring.opened_backup(bad) as backup:
        whole = next(one for one in backup.manifest.files if one.path == "beliefs/a/b.toml")
        short = restoring.KeptFile(whole.path, 10, whole.sha256)
        read = 0
        with pytest.raises(BackupError, match="changed after the backup|the length in the manifest"):
            for chunk in backup.pieces(short):
                read += len(chunk)
        assert read <= 10
