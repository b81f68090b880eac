"""The past jobs that the office pages use: the shop's record, or the demo's until it holds any."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from triage.domain.history import History
from triage.errors import EmptyRecordError
from triage.ledger.history.history_csv import read_history
from triage.ledger.history.history_rows import history_of
from triage.ledger.record import Ledger
from triage.shipped import shipped
from triage.workflows.shop.shop import Shop

DEMO_PAST_JOBS = "synthetic_cases/past-jobs.csv"


@dataclass(frozen=True)
class ShopHistory:
    """Past jobs, and where they came from.

    words : which record this is, in one sentence.
    arguments : how a child process finds the same jobs: `{"ledger": URL}` or `{"history": PATH}`.
    """

    history: History
    words: str
    invented: bool
    arguments: dict[str, Any]


def shop_history(shop: Shop, ledger: Ledger | None, url: str = "") -> ShopHistory | None:
    """Past jobs of the shop; the invented ones for a demo shop without any; else None.

    Parameters
    ----------
    url : where `ledger` is, for a child process.
    """
    recorded = _recorded(shop, ledger)
    if recorded is not None:
        words = f"The shop's record: {len(recorded.jobs):,} closed jobs up to {recorded.as_of}."
        return ShopHistory(recorded, words, False, {"ledger": url})
    if not shop.demo:
        return None
    path = shipped(DEMO_PAST_JOBS)
    demo = read_history(path, shop.catalogue)
    words = (
        f"Invented past jobs of the demo shop: {len(demo.jobs):,} up to {demo.as_of}. "
        "Your own replace them once your record has a closed job."
    )
    return ShopHistory(demo, words, True, {"history": str(path)})


def _recorded(shop: Shop, ledger: Ledger | None) -> History | None:
    """What the record has to learn from; None while no job in it is closed."""
    if ledger is None:
        return None
    with ledger.reading() as reading:
        jobs = reading.jobs()
    try:
        return history_of(jobs, shop.catalogue)
    except EmptyRecordError:
        return None
