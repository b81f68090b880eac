"""Which record is meant, in whose name it is written, and in which currency."""

from __future__ import annotations

import getpass
import re
from datetime import date
from pathlib import Path

from triage.domain.catalogue import Catalogue
from triage.domain.history import History
from triage.domain.shop.settings import load_settings
from triage.errors import Fault, InputError
from triage.ledger.history.history_rows import history_of
from triage.ledger.opening import ledger_url, open_ledger
from triage.ledger.record import Ledger
from triage.shipped import shipped
from triage.workflows.shop.shop import DEMO_SETTINGS


def open_record_if_there(where: str | None) -> Ledger | None:
    """Open a record without making one; None where there is none yet."""
    url = ledger_url(where)
    file = Path(url.database or "")
    if url.get_backend_name() == "sqlite" and (
        not file.exists() or (file.is_file() and not file.stat().st_size)
    ):
        return None
    return open_ledger(where, create=False)


def history_of_record(where: str | None, catalogue: Catalogue, as_of: date | None = None) -> History:
    """The history that a record holds, up to a day: its last date when None.

    Raises
    ------
    HistoryError : it holds no closed job, or damage that the catalogue does not know.
    """
    ledger = open_ledger(where, create=False)
    try:
        with ledger.reading() as reading:
            jobs = reading.jobs()
    finally:
        ledger.close()
    return history_of(jobs, catalogue, as_of)


def writer(name: str = "") -> str:
    """Who writes: the name given, else the login name."""
    try:
        return name.strip() or getpass.getuser()
    except (OSError, KeyError, ImportError):  # no name in the environment, and no list of users
        return "unknown"


def shop_currency(code: str, settings: Path | None) -> str:
    """The currency given, else that of the settings; raises InputError for one that is no ISO 4217 code."""
    if code and not re.fullmatch("[A-Z]{3}", code):
        raise InputError(
            [Fault("arguments", None, "--currency", f"{code!r} is not a currency", "a code such as EUR")]
        )
    return code or load_settings(settings or shipped(DEMO_SETTINGS)).currency
