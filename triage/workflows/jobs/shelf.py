"""Parts outside any job: part prices, parts put on the shelf, tested, scrapped or sold, and returned."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from triage.domain.catalogue import Catalogue
from triage.domain.job.records import CheckMade, Kept
from triage.domain.job.shelf_rules import (
    last_move,
    on_hand,
    return_refusals,
    sale_refusals,
    shelf_refusals,
    taxable_minor,
)
from triage.domain.money import from_minor, to_minor
from triage.domain.shop.settings import Settings
from triage.domain.shop.shelf import LeftAs, PartLeft, PartReturned, PriceFound, ShelfMoved, ShelfPart
from triage.domain.shop.supply import Supply
from triage.errors import JobRuleError
from triage.ledger.history.check_results import check_records
from triage.ledger.opening import open_ledger
from triage.ledger.reading import RecordReader
from triage.ledger.record import Ledger, Writing
from triage.review.money.sold_parts import PartSale
from triage.workflows.jobs.data_job import data_record_of
from triage.workflows.shop.shop import Shop


@dataclass(frozen=True)
class ShelfLine:
    """A shelf part, the label of its donor ("" when bought), and where it is now in words."""

    part: Kept[ShelfPart]
    donor: str
    where: str
    free: bool


def supply_of(ledger: Ledger, catalogue: Catalogue) -> Supply:
    """What the record knows of parts, checks and data jobs now."""
    with ledger.reading() as reading:
        found = tuple(kept.record for kept in reading.prices_found())
        shelf = tuple(kept.record for kept in on_hand(reading.shelf(), reading.shelf_moves()))
        checked = check_records(reading.jobs(having=CheckMade), catalogue)
        data = data_record_of(reading)
    return Supply(found, shelf, tuple(sorted(checked.items())), data)


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


def now_fits(ledger: Ledger, by: str, shelf: int, tier: str, model: str, why: str) -> None:
    """Record what a shelf part fits, and how the shop knows: models, or a whole price class."""
    if not why.strip():
        raise JobRuleError(["enter how you know what it fits"])
    if not tier and not model.strip():
        raise JobRuleError(["enter a model, or choose a price class"])
    with ledger.writing(by) as writing:
        part = _part(writing, shelf)
        fits = replace(part.record, tier="" if model.strip() else tier, model=model.strip())
        writing.shelf_append(fits, replaces=shelf, why=f"fits: {why.strip()}")


def data_wiped(ledger: Ledger, by: str, shelf: int, how: str) -> None:
    """Record that the data in a shelf part were erased, and what shows it."""
    if not how.strip():
        raise JobRuleError(["enter the method and the proof of the data wipe"])
    with ledger.writing(by) as writing:
        part = _part(writing, shelf)
        writing.shelf_append(replace(part.record, wiped=how.strip()), replaces=shelf, why="data erased")


def scrap(ledger: Ledger, by: str, shelf: int, on: date, note: str = "") -> None:
    """Take a free part off the shelf for good: it is broken, or to be destroyed."""
    with ledger.writing(by) as writing:
        _let_go(writing, _free(writing, shelf), "scrapped", on, note=note.strip())


def sell_part(
    ledger: Ledger,
    catalogue: Catalogue,
    settings: Settings,
    by: str,
    shelf: int,
    sale: PartLeft,
    fees_known: bool = True,
) -> None:
    """Sell a free part of the shelf; the sale belongs to the job that it came from, if there is one.

    Parameters
    ----------
    sale : price, day, buyer and note; what is of the part itself is filled in.
    fees_known : whether the fees are those of the sale; otherwise they follow from the settings.
    """
    with ledger.writing(by) as writing:
        part = _free(writing, shelf)
        if not fees_known:
            share = settings.fees.selling_share + settings.fees.payment_share
            price = from_minor(sale.price_minor, part.record.currency)
            sale = replace(sale, fees_minor=to_minor(price * share, part.record.currency))
        if refused := sale_refusals(part.record, sale, catalogue):
            raise JobRuleError(refused)
        _let_go(
            writing, part, "sold", sale.on, sale.price_minor, sale.fees_minor, sale.person.strip(), sale.note
        )


def part_returned(ledger: Ledger, by: str, back: PartReturned) -> None:
    """Record that a buyer returned a part: what was refunded, and whether it is on the shelf again."""
    with ledger.writing(by) as writing:
        sale = next((kept for kept in writing.parts_left() if kept.id == back.left), None)
        refused = list(return_refusals(sale, writing.parts_returned(), back))
        if refused or sale is None or sale.record.shelf is None:
            raise JobRuleError(refused or ["this sale was imported: correct the past job instead"])
        shelf = sale.record.shelf
        writing.claim_shelf(shelf)
        part = _part(writing, shelf)
        moved = ShelfMoved(shelf, "released" if back.to == "shelf" else "scrapped", None, back.note)
        if refusals := shelf_refusals(part, writing.shelf_moves(), moved, returned=True):
            raise JobRuleError(refusals)
        if back.to == "shelf":  # nobody knows yet whether it still works
            writing.shelf_append(
                replace(part.record, tested=False), replaces=shelf, why="returned by its buyer"
            )
        writing.shelf_append(moved)
        _append(writing, part.record.donor, back)


def part_sales(ledger: Ledger) -> tuple[PartSale, ...]:
    """Every part sold, newest first."""
    with ledger.reading() as reading:
        labels = reading.labels_by_id()
        parts = {kept.id: kept.record for kept in reading.shelf()}
        back = {kept.record.left: kept.record for kept in reading.parts_returned()}
        sold = [kept for kept in reading.parts_left() if kept.record.how == "sold"]
    sales = []
    for kept in reversed(sold):
        part = parts.get(kept.record.shelf or 0)
        if part is None:
            continue  # imported with its job: there is no single part
        returned = back.get(kept.id)
        of_stock = replace(kept.record, cost_minor=0)
        taxable = taxable_minor(kept.record if part.donor else of_stock, returned)
        sales.append(PartSale(kept, part, labels.get(part.donor or 0, ""), returned, taxable))
    return tuple(sales)


def _let_go(
    writing: Writing,
    part: Kept[ShelfPart],
    how: LeftAs,
    on: date,
    price: int = 0,
    fees: int = 0,
    person: str = "",
    note: str = "",
) -> None:
    """Write that a part is gone, on the shelf and, with its share and worth, in the job it came from."""
    told = part.record
    left = PartLeft(
        how, on, part.id, told.part, price, fees, told.cost_minor, told.worth_minor, person, note.strip()
    )
    writing.shelf_append(ShelfMoved(part.id, how))
    _append(writing, told.donor, left)


def _append(writing: Writing, donor: int | None, record: PartLeft | PartReturned) -> None:
    if donor is None:
        writing.shelf_append(record)
    else:
        writing.append(donor, record)


def _free(writing: Writing, shelf: int) -> Kept[ShelfPart]:
    """A part that is on hand and promised to nobody, kept from other writers."""
    writing.claim_shelf(shelf)
    part = _part(writing, shelf)
    if refused := shelf_refusals(part, writing.shelf_moves(), ShelfMoved(shelf, "scrapped")):
        raise JobRuleError(refused)
    last = last_move(shelf, writing.shelf_moves())
    if last and last.move == "reserved":
        raise JobRuleError(["this part is reserved for a job: send it back to the shelf there first"])
    return part


def _part(reading: RecordReader, shelf: int) -> Kept[ShelfPart]:
    part = next((kept for kept in reading.shelf() if kept.id == shelf), None)
    if part is None:
        raise JobRuleError(["this part is not on the shelf"])
    return part
