"""The daily copy of the shop: started by whichever page is opened first, never waited for."""

from __future__ import annotations

import os
import threading
from datetime import date, datetime, timedelta

from triage.domain.shop.settings import Settings
from triage.errors import TriageError
from triage.workflows.backup.daily import copy_of_day, daily_copies, daily_copy, day_of
from triage.workflows.shop.shop_files import ShopFiles

# A copy that failed is tried again after so long.
_AGAIN = timedelta(minutes=10)
# Of each folder: when a copy was last begun in it, the thread that makes it, and what went wrong.
_BEGUN: dict[str, tuple[datetime, threading.Thread]] = {}
_WRONG: dict[str, str] = {}
_ONE_AT_A_TIME = threading.Lock()


def start_daily_copy(settings: Settings) -> None:
    """Begin today's copy beside the page, where the settings name a folder and it is not there yet."""
    folder, now = settings.backup_folder, datetime.now()
    if not folder:
        return
    with _ONE_AT_A_TIME:
        begun = _BEGUN.get(folder)
        same_day = begun is not None and begun[0].date() == now.date()
        if begun is not None and (begun[1].is_alive() or same_day and now - begun[0] < _AGAIN):
            return
        at_work = threading.Thread(target=_make, args=(folder, now.date()), daemon=True)
        _BEGUN[folder] = now, at_work
        at_work.start()


def wait_for_daily_copy(folder: str) -> None:
    """Wait until the copy that was begun in a folder has ended, however it did."""
    if folder in _BEGUN:
        _BEGUN[folder][1].join()


def daily_copy_standing(folder: str, today: date) -> tuple[str, str]:
    """When the last daily copy was made, and what went wrong with today's; each "" where there is nothing."""
    try:
        copies = daily_copies(folder)
        if copy_of_day(folder, today).exists():
            return f"Today's backup is done: {copies[0].name}.", ""
    except TriageError as refusal:
        return "", str(refusal)
    made = f"Last daily backup: {day_of(copies[0])}." if copies else "No daily backup exists yet."
    return made, _WRONG.get(folder, "")


def _make(folder: str, day: date) -> None:
    try:
        daily_copy(folder, day, None, ShopFiles.from_environment(os.environ))
        _WRONG.pop(folder, None)
    except Exception as problem:  # nobody waits for this thread: the Settings page tells what it met
        _WRONG[folder] = str(problem) or type(problem).__name__
