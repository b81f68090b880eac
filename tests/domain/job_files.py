"""Job files made by hand: records in the order in which they were written."""

from datetime import UTC, date, datetime

from triage.domain.job.file import JobFile
from triage.domain.job.records import Answer, HandOver, Intake, Kept, Moved, QuoteGiven
from triage.ledger.tables import OF_A_JOB

DAY = date(2026, 11, 20)
AT = datetime(2026, 11, 20, 9, tzinfo=UTC)
LOOKED = Intake(DAY, "", battery_looked_at=True)
_FIELD = {record: name for name, record in OF_A_JOB.items()}


def kept(id, record):
    return Kept(id, AT, "ada", record, id)


def job(route, state, *records, intake=LOOKED):
    """A job in a state; the records after it have the ids 3, 4, ... in their order."""
    moves = (kept(2, Moved("take", state, DAY)),) if state != "considered" else ()
    held = {"moves": list(moves)}
    for id, record in enumerate(records, start=3):
        held.setdefault(_FIELD[type(record)], []).append(kept(id, record))
    files = {name: tuple(found) for name, found in held.items()}
    return JobFile(1, "J-0001", route, "EUR", AT, 1, intake=kept(1, intake), **files)


def quote(covers='["port-pins-damaged"]', number=1, price=9000, ceiling=12000, until=date(2026, 12, 4)):
    return QuoteGiven(number, DAY, price, ceiling, until, covers)


def yes(to, ceiling=12000, on=DAY):
    return Answer(to, on, True, "Bo Marsh", "in person, signed", ceiling)


def handed(grade="working", disclosure="", wiped="reset, set-up screen shown", person="Cy Vane", days=90):
    return HandOver(DAY, grade, disclosure, days, person, wiped)


def says(refusals, *words):
    """Exactly these refusals, each known by a few of its words."""
    assert len(refusals) == len(words), refusals
    for said, word in zip(refusals, words, strict=True):
        assert word in said
    return True
