"""A data job in the record: its quote, its outcome, and the erasure of the shop's own copy."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import asdict
from datetime import date, timedelta

from triage.domain.data_job import CopyErased, DataAsked, DataEnded, DataFacts
from triage.domain.job.data.rules import data_end_refusals, data_quote_refusals, erase_refusals
from triage.domain.job.file import JobFile
from triage.domain.job.owner_consent import quote_refusals
from triage.domain.job.records import QuoteGiven, StopResolved
from triage.domain.job.rules import battery_refusals
from triage.domain.shop.data_record import DataRecord, data_record
from triage.ledger.reading import RecordReader
from triage.workflows.jobs.record_keeper import RecordKeeper, refuse


def give_data_quote(
    keeper: RecordKeeper,
    job: int,
    version: int,
    on: date,
    price_minor: int,
    covers: Iterable[str],
    facts: DataFacts,
    fee_minor: int,
    part_minor: int,
    chances: tuple[float, float],
    letter: str = "",
    valid_until: date | None = None,
) -> JobFile:
    """Put a quote to save data to the owner, with what was known and forecast then.

    Parameters
    ----------
    covers : damage kinds that stand in the way of the data; none where nothing does.
    fee_minor : for trying; 0 is no data, no fee. part_minor : due for a part of the data.
    chances : of all and of part of the data.
    valid_until : by the shop's settings when None.
    """
    with keeper.changing(job, version) as change:
        until = valid_until or on + timedelta(days=keeper.shop.settings.quoting.valid_days)
        number, ceiling = len(change.file.quotes) + 1, max(price_minor, fee_minor)
        quote = QuoteGiven(number, on, price_minor, ceiling, until, json.dumps(list(covers)), letter)
        refuse([
            *battery_refusals(change.file), *quote_refusals(change.file, quote, keeper.catalogue),
            *data_quote_refusals(facts),
        ])  # fmt: skip
        asked = change.append(quote)
        all_chance, part_chance = chances
        change.append(
            DataAsked(
                **asdict(facts), quote=asked, on=on, fee_minor=fee_minor, part_minor=part_minor,
                all_chance=all_chance, part_chance=part_chance,
            )
        )  # fmt: skip
        return change.now()


def end_data_job(keeper: RecordKeeper, job: int, version: int, ended: DataEnded) -> JobFile:
    """Record what was saved; stops that waited for the data are resolved with it."""
    with keeper.changing(job, version) as change:
        days = keeper.shop.settings.data.copy_days
        refuse(data_end_refusals(change.file, ended, days, keeper.catalogue))
        change.append(ended)
        for stop in change.file.open_stops:
            if stop.record.about == "data":
                change.append(StopResolved(stop.id, f"data job ended: {ended.outcome} saved"))
        return change.now()


def erase_copy(keeper: RecordKeeper, job: int, version: int, erased: CopyErased) -> JobFile:
    """Record that the shop's own copy was erased, whatever became of the device."""
    with keeper.changing(job, version) as change:
        refuse(erase_refusals(change.file, erased))
        change.append(erased)
        return change.now()


def data_record_of(reading: RecordReader) -> DataRecord:
    """Ended data jobs of the record, counted."""
    files = reading.jobs(having=DataEnded)
    # Of one that was told by a file nobody knows what was known beforehand: its outcome counts.
    return data_record(
        (file.data_job or DataFacts(chips="yes", touch="works", code="yes"), file.data_ended[-1].record)
        for file in files
        if file.data_ended
    )
