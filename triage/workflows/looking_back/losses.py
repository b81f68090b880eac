"""The money review over past jobs, with the units that a record says were passed by."""

from __future__ import annotations

from datetime import date

from triage.domain.catalogue import Catalogue
from triage.domain.history import History
from triage.domain.shop.settings import Settings
from triage.errors import Fault, HistoryError
from triage.ledger.history.history_rows import history_of
from triage.ledger.opening import open_ledger
from triage.ledger.record import Ledger
from triage.review.money.money_review import By, MoneyReview, money_review
from triage.review.money.regret import PassedUnit
from triage.workflows.looking_back.passed_units import passed_units
from triage.workflows.shop.shop import Shop
from triage.workflows.shop.shop_history import ShopHistory


def margin_by_damage(past: ShopHistory, shop: Shop, ledger: Ledger | None, by: By = "kind") -> MoneyReview:
    """Review the past jobs of an open shop; `ledger` tells of the units that were passed by.

    Raises
    ------
    HistoryError : the record's amounts are in another currency than the shop's settings.
    """
    currency, passed = shop.settings.currency, None
    if ledger is not None:
        with ledger.reading() as reading:
            passed = passed_units(reading.jobs(("declined",)), currency)
            if not past.invented:
                # One job tells: a history of several currencies is refused before it comes here.
                _refuse_other(reading.job_labelled(past.history.jobs.index[0]).currency, currency)
    return money_review(past.history, shop.catalogue, shop.settings, by, passed)


def history_and_passed(
    where: str | None, catalogue: Catalogue, settings: Settings, as_of: date | None = None
) -> tuple[History, tuple[PassedUnit, ...]]:
    """Closed jobs and passed units of a record that is opened for it.

    Raises
    ------
    HistoryError : no closed job, or amounts in another currency than the settings'.
    """
    ledger = open_ledger(where, create=False)
    try:
        with ledger.reading() as reading:
            jobs = reading.jobs()
    finally:
        ledger.close()
    history = history_of(jobs, catalogue, as_of)
    told = set(history.jobs.index)
    _refuse_other(next(job.currency for job in jobs if job.label in told), settings.currency)
    return history, passed_units(jobs, settings.currency, as_of)


def _refuse_other(currency: str, expected: str) -> None:
    if currency != expected:
        wrong = f"its amounts are in {currency}, and the shop's rates and fees in {expected}"
        raise HistoryError([Fault("the record", None, "currency", wrong, "one currency for both")])
