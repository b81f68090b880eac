"""The daily copy begins with the first page, beside it; what goes wrong is told on the Settings page."""

from __future__ import annotations

import threading
from datetime import date

import pytest

from triage.app_pages.shared.literal import literal
from triage.app_pages.shared.pages import PAGES
from triage.workflows.backup import daily_in_background as daily_copy
from triage.workflows.backup.daily_in_background import wait_for_daily_copy
from triage.workflows.backup.restore import restore_shop
from triage.workflows.shop.own_settings import keep_settings


@pytest.fixture
def copies(record, tmp_path):
    """A folder for daily copies, which the settings name."""
    folder = tmp_path / "copies"
    keep_settings({"backup_folder": str(folder)})
    return folder


def settings_page(page):
    page.switch_page(str(PAGES["settings"])).run()
    assert not page.exception
    return "\n".join(one.value for kind in ("markdown", "warning") for one in page.get(kind))


def test_the_first_page_of_a_day_begins_one(page, copies, tmp_path):
    copies.mkdir()
    page.run()
    assert not page.exception
    wait_for_daily_copy(str(copies))
    (made,) = copies.iterdir()
    assert made.name.endswith(f"-{date.today().isoformat()}.zip")
    assert literal(f"Today's backup is done: {made.name}.") in settings_page(page)
    assert list(copies.iterdir()) == [made]
    done = restore_shop(made, str(tmp_path / "other" / "bench.sqlite"))
    assert done.record.exists()


def test_a_page_does_not_wait_for_it(page, copies, monkeypatch):
    copies.mkdir()
    go_on, begun = threading.Event(), []

    def slow(*told):
        begun.append(told)
        go_on.wait(60)

    monkeypatch.setattr(daily_copy, "daily_copy", slow)
    page.run()
    page.run()
    assert not page.exception and page.header  # drawn while the copy is still being made
    go_on.set()
    wait_for_daily_copy(str(copies))
    assert len(begun) == 1


def test_a_folder_that_is_not_there_is_told_and_no_page_fails(page, copies):
    page.run()
    assert not page.exception
    wait_for_daily_copy(str(copies))
    said = settings_page(page)
    assert "Today's backup was not made" in said and literal(f"{copies}, does not exist") in said
    assert not copies.exists()


def test_whatever_else_goes_wrong_is_told_too(page, copies, monkeypatch):
    copies.mkdir()

    def broken(*told):
        raise MemoryError("no memory was left")

    monkeypatch.setattr(daily_copy, "daily_copy", broken)
    page.run()
    wait_for_daily_copy(str(copies))
    assert literal("no memory was left") in settings_page(page)


def test_without_a_folder_there_is_none(page, record, tmp_path):
    page.run()
    before = set(tmp_path.rglob("*.zip"))
    assert "No daily backup is made" in settings_page(page) and before == set()
