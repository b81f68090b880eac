"""Parts outside any job: part prices, parts put on the shelf, tested, scrapped or sold."""

from __future__ import annotations

from dataclasses import dataclass, replace

from triage.domain.catalogue import Catalogue
from triage.domain.job.records import CheckMade, Kept
from triage.domain.job.shelf_rules import last_move, on_hand, shelf_refusals
from triage.domain.shop.shelf import PriceFound, ShelfMove, ShelfMoved, ShelfPart
from triage.domain.shop.supply import Supply
from triage.errors import JobRuleError
from triage.ledger.history.check_results import check_records
from triage.ledger.opening import open_ledger
from triage.ledger.reading import RecordReader
from triage.ledger.record import Ledger
from triage.workflows.shop.shop import Shop


@dataclass(frozen=True)
class ShelfLine:
    """A shelf part, the label of its donor ("" when bought), and where it is now in words."""

    part: Kept[ShelfPart]
    donor: str
    where: str
    free: bool


def supply_of(ledger: Ledger, catalogue: Catalogue) -> Supply:
    """What the record knows of parts and checks now."""
    with ledger.reading() as reading:
        found = tuple(kept.record for kept in reading.prices_found())
        shelf = tuple(kept.record for kept in on_hand(reading.shelf(), reading.shelf_moves()))
        checked = check_records(reading.jobs(having=CheckMade), catalogue)
    return Supply(found, shelf, tuple(sorted(checked.items())))


def stocked(shop: Shop, where: str | None) -> Shop:
    """A shop with what a record knows of parts and checks; as it is where no record is named."""
    if where is None:
        return shop
    ledger = open_ledger(where, create=False)
    try:
        return replace(shop, supply=supply_of(ledger, shop.catalogue))
    finally:
        ledger.close()


def shelf_lines(ledger: Ledger) -> tuple[ShelfLine, ...]:
    """Every part that is still the shop's, free ones first."""
    with ledger.reading() as reading:
        moves, labels = reading.shelf_moves(), reading.labels_by_id()
        lines = []
        for part in reading.shelf():
            last = last_move(part.id, moves)
            now = last.move if last else "released"
            if now in ("fitted", "scrapped", "sold"):
                continue
            promised = labels.get(last.job, "a job") if last and last.job else "a job"
            where = f"reserved for {promised}" if now == "reserved" else "on hand"
            donor = labels.get(part.record.donor, "") if part.record.donor else ""
            lines.append(ShelfLine(part, donor, where, now == "released"))
    return tuple(sorted(lines, key=lambda line: (not line.free, line.part.id)))


def note_price(ledger: Ledger, by: str, note: PriceFound) -> None:
    """Record what a part costs at one source; it stands for every answer from now on."""
    refused = []
    if not note.source.strip():
        refused.append("enter the supplier")
    if note.cost_minor < 0 or note.tax_minor < 0:
        refused.append("enter cost and tax of 0 or more")
    if not 0 <= note.lead_low <= note.lead_likely <= note.lead_high:
        refused.append("lead times must rise from shortest to longest")
    if not 0 <= note.dead_on_arrival < 1:
        refused.append("dead on arrival must be from 0 to less than 20 of 20")
    if refused:
        raise JobRuleError(refused)
    with ledger.writing(by) as writing:
        writing.shelf_append(note)


def shelve(ledger: Ledger, by: str, part: ShelfPart) -> None:
    """Put a part that was bought to stock on the shelf."""
    if part.cost_minor < 0:
        raise JobRuleError(["enter a cost of 0 or more"])
    with ledger.writing(by) as writing:
        writing.shelf_append(part)


def found_to_work(ledger: Ledger, by: str, shelf: int, how: str) -> None:
    """Record that a shelf part was tested and works, and how that was seen."""
    if not how.strip():
        raise JobRuleError(["enter how it was tested"])
    with ledger.writing(by) as writing:
        part = _part(writing, shelf)
        writing.shelf_append(replace(part.record, tested=True), replaces=shelf, why=f"tested: {how.strip()}")


def take_off(ledger: Ledger, by: str, shelf: int, move: ShelfMove, note: str = "") -> None:
    """Take a free part off the shelf: scrapped, or sold."""
    with ledger.writing(by) as writing:
        writing.claim_shelf(shelf)
        part = _part(writing, shelf)
        moved = ShelfMoved(shelf, move, None, note.strip())
        refused = shelf_refusals(part, writing.shelf_moves(), moved)
        if refused:
            raise JobRuleError(refused)
        writing.shelf_append(moved)


def _part(reading: RecordReader, shelf: int) -> Kept[ShelfPart]:
    part = next((kept for kept in reading.shelf() if kept.id == shelf), None)
    if part is None:
        raise JobRuleError(["this part is not on the shelf"])
    return part
