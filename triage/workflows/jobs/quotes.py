"""Asking an owner: quotes in numbered versions, answers, and money that changes hands."""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import date, timedelta

from triage.domain.job.file import JobFile
from triage.domain.job.owner_consent import answer_refusals, quote_refusals
from triage.domain.job.records import Answer, Payment, QuoteGiven
from triage.domain.job.rules import battery_refusals
from triage.workflows.jobs.record_keeper import RecordKeeper, refuse


def give_quote(
    keeper: RecordKeeper,
    job: int,
    version: int,
    on: date,
    price_minor: int,
    ceiling_minor: int,
    covers: Iterable[str],
    letter: str = "",
    valid_until: date | None = None,
) -> JobFile:
    """Put the next version of a quote to the owner.

    Parameters
    ----------
    covers : damage kinds it covers; none for a diagnostic fee, which pays for opening and checks only.
    valid_until : by the shop's settings when None.
    """
    with keeper.changing(job, version) as change:
        until = valid_until or on + timedelta(days=keeper.shop.settings.quoting.valid_days)
        quote = QuoteGiven(
            len(change.file.quotes) + 1,
            on,
            price_minor,
            ceiling_minor,
            until,
            json.dumps(list(covers)),
            letter,
        )
        refuse([*battery_refusals(change.file), *quote_refusals(change.file, quote, keeper.catalogue)])
        change.append(quote)
        return change.now()


def take_answer(
    keeper: RecordKeeper,
    job: int,
    version: int,
    on: date,
    yes: bool,
    who: str,
    how: str,
    ceiling_minor: int | None = None,
    quote: int | None = None,
) -> JobFile:
    """Record an owner's answer: who gave it, when, how, and up to how much.

    Parameters
    ----------
    ceiling_minor : the quote's own when None.
    quote : id of the quote answered; the last one when None.
    """
    with keeper.changing(job, version) as change:
        quotes = {kept.id: kept.record for kept in change.file.quotes}
        refuse([] if quotes else ["this job has no quote"])
        quote = max(quotes) if quote is None else quote
        if ceiling_minor is None:
            ceiling_minor = quotes[quote].ceiling_minor if yes and quote in quotes else 0
        answer = Answer(quote, on, yes, who, how, ceiling_minor)
        refuse(answer_refusals(change.file, answer))
        change.append(answer)
        return change.now()


def pay(keeper: RecordKeeper, job: int, version: int, payment: Payment) -> JobFile:
    """Record a payment."""
    with keeper.changing(job, version) as change:
        refuse([] if payment.amount_minor else ["enter an amount other than 0"])
        change.append(payment)
        return change.now()
