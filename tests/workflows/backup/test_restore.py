"""A shop put back is the shop that was kept; whatever is wrong with a backup changes nothing."""

from __future__ import annotations

import errno
import hashlib
import json
import os
import zipfile
from pathlib import Path

import pytest

from tests.workflows.backup.whole_shop import dump, listing, named_files, rewrite
from triage.errors import BackupError
from triage.ledger.opening import open_ledger
from triage.workflows.backup import restore as restoring
from triage.workflows.backup.back_up import back_up_shop
from triage.workflows.backup.restore import restore_shop
from triage.workflows.shop.own_books import own_books
from triage.workflows.shop.own_settings import keep_settings
from triage.workflows.shop.shop_files import ShopFiles


def as_named_there(files, stem):
    """A listing with the record's name taken out of it."""
    return {
        f"NAME{path.removeprefix(stem)}" if path.startswith(stem + "-") else path: digest
        for path, digest in files.items()
        if ".tmp" not in path and not path.startswith(f"{stem}.sqlite")
    }


def test_another_home_has_the_same_shop(kept, home, elsewhere):
    done = restore_shop(kept, str(elsewhere))
    assert dump(elsewhere) == dump(home / "record.sqlite", passcodes=False)
    assert as_named_there(listing(elsewhere.parent), "bench") == as_named_there(listing(home), "record")
    here, there = own_books(ShopFiles()).open(), own_books(ShopFiles(), str(elsewhere)).open()
    assert there.settings == here.settings and there.settings.bench_rate == 77
    assert there.priors == here.priors and own_books(ShopFiles(), str(elsewhere)).priors.name == "careful"
    assert there.posterior.manifest == here.posterior.manifest
    assert done.aside is None and not done.named
    assert [part.name for part in done.parts] == ["photos", "learned", "beliefs", "settings"]
    assert not list(elsewhere.parent.glob(".*"))
    modes = {path.stat().st_mode & 0o077 for path in elsewhere.parent.rglob("*")}
    assert modes == {0}


def test_named_files_lie_beside_the_record_and_are_told(photos, tmp_path, elsewhere):
    named = named_files(tmp_path / "named")
    kept = back_up_shop(tmp_path / "shop.zip", named=named).file
    done = restore_shop(kept, str(elsewhere))
    prices, priors = sorted(done.named, key=lambda one: one.book)
    assert prices.where.read_bytes() == named.prices.read_bytes()
    assert (prices.option, prices.variable) == ("--prices", "TRIAGE_SHOP_PRICES")
    assert listing(priors.where) == listing(named.priors) and priors.variable == "TRIAGE_SHOP_PRIORS"
    assert prices.where.is_relative_to(elsewhere.parent / "bench-files")
    opened = ShopFiles.from_environment({prices.variable: str(prices.where)}).open()
    assert opened.prices == named.open().prices


def test_what_is_there_stays_or_is_put_aside(kept, home):
    keep_settings({"bench_rate": 12.0})
    before = listing(home)
    with pytest.raises(BackupError, match="already exists.*--force"):
        restore_shop(kept)
    assert listing(home) == before
    done = restore_shop(kept, force=True)
    settings = next(part for part in done.parts if part.name == "settings")
    assert "12" in settings.aside.read_text() and "77" in settings.where.read_text()
    # What is as the backup has it stays where it is, a half-written fit in it too.
    assert {part.name for part in done.parts if part.unchanged} == {"photos", "learned", "beliefs"}
    assert dump(done.aside).count("heron") == 1 and dump(done.record) == dump(done.aside, passcodes=False)
    assert before.items() >= {(k, v) for k, v in listing(home).items() if k in before and "learned" in k}


def test_what_the_backup_does_not_have_is_put_aside_too(kept, tmp_path, elsewhere):
    """Beliefs that stayed in use would change what the restored shop answers."""
    bare = tmp_path / "bare.zip"
    rewrite(kept, bare, drop=lambda path: path.startswith("beliefs/"))
    (elsewhere.parent / "beliefs" / "bold").mkdir(parents=True)
    (elsewhere.parent / "beliefs" / "bold" / "success.toml").write_text("")
    before = listing(elsewhere.parent)
    with pytest.raises(BackupError, match="beliefs already exists"):
        restore_shop(bare, str(elsewhere))
    assert listing(elsewhere.parent) == before
    done = restore_shop(bare, str(elsewhere), force=True)
    beliefs = next(part for part in done.parts if part.name == "beliefs")
    assert beliefs.files == 0 and listing(beliefs.aside) and not beliefs.where.exists()


def test_a_record_in_use_is_not_moved(kept, home):
    ledger = open_ledger()
    with ledger.reading() as reading:
        reading.labels()
        with pytest.raises(BackupError, match="is in use"):
            restore_shop(kept, force=True)
    ledger.close()
    assert not list(home.glob("*.before-*"))


@pytest.mark.parametrize("place", ["bench.sqlite", "bench-settings.toml"])
def test_a_folder_in_the_place_of_a_file(kept, elsewhere, place):
    (elsewhere.parent / place).mkdir(parents=True)
    (elsewhere.parent / place / "x").write_text("x")
    before = listing(elsewhere.parent)
    with pytest.raises(BackupError, match="is a folder|already exists"):
        restore_shop(kept, str(elsewhere))
    assert listing(elsewhere.parent) == before


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="all may be written here")
def test_a_place_that_cannot_be_written_is_named(kept, elsewhere):
    elsewhere.parent.mkdir()
    elsewhere.parent.chmod(0o500)
    with pytest.raises(BackupError, match="Permission denied"):
        restore_shop(kept, str(elsewhere))
    elsewhere.parent.chmod(0o700)
    assert not list(elsewhere.parent.iterdir())


@pytest.mark.skipif(not Path("/proc/self").is_dir(), reason="no folder here in which nobody may write")
def test_a_place_where_nobody_may_write_is_refused(kept):
    with pytest.raises(BackupError, match="^/proc"):
        restore_shop(kept, "/proc/bench.sqlite")
    with pytest.raises(BackupError, match="^/proc/shop.zip cannot be written"):
        back_up_shop(Path("/proc/shop.zip"))


def test_a_full_disk_is_named_and_nothing_changes(kept, home, monkeypatch):
    before = other_shop(home)
    real, written = restoring.OpenBackup.pieces, []

    def pieces(self, one):
        for chunk in real(self, one):
            written.append(one)
            if len(written) > len(self.manifest.files) + 5:  # all were read once before
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            yield chunk

    monkeypatch.setattr(restoring.OpenBackup, "pieces", pieces)
    with pytest.raises(BackupError, match=r"restoring.* cannot be written: No space left"):
        restore_shop(kept, force=True)
    assert listing(home) == before


def test_a_file_where_a_folder_should_be_made(kept, tmp_path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(BackupError, match="cannot be used"):
        restore_shop(kept, str(tmp_path / "file" / "bench.sqlite"))
    assert (tmp_path / "file").read_text() == "x"


def test_a_server_takes_no_record_from_a_file(kept):
    with pytest.raises(BackupError, match="--record"):
        restore_shop(kept, "postgresql://bench@localhost/record")


def other_shop(home):
    """The shop changed after its backup, in every part."""
    keep_settings({"bench_rate": 12.0})
    (home / "beliefs" / "in-use.txt").write_text("other")
    (home / "record-learned" / "draws-earlier" / "success.h5").write_bytes(b"a later fit")
    next((home / "record-photos").iterdir()).unlink()
    return listing(home)


@pytest.mark.parametrize("step", range(8))
def test_a_move_that_fails_puts_everything_back_and_can_be_repeated(kept, home, monkeypatch, step):
    before = other_shop(home)
    real, moves = restoring._replace, []

    def replace(source, target):
        moves.append(target)
        if len(moves) == step + 1:
            raise OSError(28, "No space left on device", str(target))
        real(source, target)

    monkeypatch.setattr(restoring, "_replace", replace)
    with pytest.raises(BackupError, match="No space left"):
        restore_shop(kept, force=True)
    assert listing(home) == before
    monkeypatch.setattr(restoring, "_replace", real)
    whole(restore_shop(kept, force=True), home)


@pytest.mark.parametrize("step", range(9))
def test_a_restore_that_was_killed_can_be_repeated(kept, home, step):
    before = other_shop(home)
    child = os.fork() if hasattr(os, "fork") else pytest.skip("no fork here")
    if child == 0:  # no tidying after os._exit, as after a kill
        real, moves = restoring._replace, []

        def replace(source, target):
            if len(moves) == step:
                os._exit(9)
            moves.append(target)
            real(source, target)

        restoring._replace = replace
        real_restore = restoring.restore
        restoring.restore = lambda a, b, c=False, **more: (
            os._exit(9) if Path(b).name == "record.sqlite" else real_restore(a, b, c, **more)
        )
        try:
            restore_shop(kept, force=True)
        finally:
            os._exit(1)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 9
    held = set(listing(home).values())
    assert set(before.values()) <= held  # whatever was there is still there, in its place or aside
    whole(restore_shop(kept, force=True), home)
    assert set(before.values()) <= set(listing(home).values())


@pytest.mark.skipif(not hasattr(os, "fork"), reason="no fork here")
def test_killed_with_the_old_record_aside_and_the_new_one_not_there_yet(kept, home):
    before = other_shop(home)
    child = os.fork()
    if child == 0:
        real = os.replace

        def replace(source, target):
            if Path(target).name == "record.sqlite":
                os._exit(9)
            real(source, target)

        os.replace = replace
        try:
            restore_shop(kept, force=True)
        finally:
            os._exit(1)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 9
    assert not (home / "record.sqlite").exists() and set(before.values()) <= set(listing(home).values())
    done = restore_shop(kept)  # nothing is in the way any more
    assert done.aside is None and {part.unchanged for part in done.parts} == {True}
    (aside,) = home.glob("record.sqlite.before-*")
    assert dump(done.record) == dump(aside, passcodes=False)


def whole(done, home):
    """The shop is as its backup has it."""
    with zipfile.ZipFile(done.file) as held:
        told = json.loads(held.read("manifest.json"))["files"]
    names = {"settings": "record-settings", "learned": "record-learned", "photos": "record-photos"}
    for one in told:
        first, dot, rest = one["path"].partition("." if "/" not in one["path"] else "/")
        if first != "record":
            place = home / f"{names.get(first, first)}{dot}{rest}"
            assert hashlib.sha256(place.read_bytes()).hexdigest() == one["sha256"]
    assert dump(done.record) == dump(done.aside, passcodes=False)
    assert not list(home.glob(".*"))
