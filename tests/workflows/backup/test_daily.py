"""One copy a day, the last fourteen of this shop's own, and nothing else in the folder touched."""

from __future__ import annotations

import zipfile
from datetime import date, timedelta

import pytest

from triage.errors import BackupError
from triage.workflows.backup.daily import daily_copies, daily_copy, day_of
from triage.workflows.backup.restore import restore_shop

FIRST = date(2026, 11, 20)


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "copies").mkdir()
    return tmp_path / "copies"


def test_there_is_one_a_day_and_it_can_be_put_back(photos, folder, elsewhere):
    made = daily_copy(str(folder), FIRST)
    assert daily_copy(str(folder), FIRST) is None
    assert daily_copies(str(folder)) == (made,) and day_of(made) == FIRST
    assert restore_shop(made, str(elsewhere)).record == elsewhere


def test_the_last_fourteen_stay_and_nothing_else_is_touched(photos, folder):
    others = [
        folder / "record-2020-01-01.zip",
        folder / "other-12345678-2020-01-01.zip",
        folder / "notes.txt",
    ]
    for path in others:
        path.write_text("not ours")
    for days in range(16):
        daily_copy(str(folder), FIRST + timedelta(days=days))
    days = [day_of(path) for path in daily_copies(str(folder))]
    assert days == [FIRST + timedelta(days=day) for day in range(15, 1, -1)]
    assert all(path.read_text() == "not ours" for path in others)
    assert len(list(folder.iterdir())) == 14 + len(others)


def test_two_shops_may_have_one_folder(photos, folder, kept, elsewhere):
    restore_shop(kept, str(elsewhere.with_name("record.sqlite")))
    first = daily_copy(str(folder), FIRST)
    second = daily_copy(str(folder), FIRST, str(elsewhere.with_name("record.sqlite")))
    assert first != second and daily_copies(str(folder)) == (first,)


def test_no_folder_is_made_and_none_is_guessed(photos, tmp_path):
    for folder in (str(tmp_path / "disk-not-there"), "copies", __file__):
        with pytest.raises(BackupError, match="does not exist"):
            daily_copy(folder, FIRST)
    assert not (tmp_path / "disk-not-there").exists()


def test_it_holds_no_passcode(photos, folder):
    with zipfile.ZipFile(daily_copy(str(folder), FIRST)) as held:
        assert b"heron-7731-lantern" not in held.read("record.sqlite")
