"""Parts on the shop's own shelf: what is on hand, who may have it, what it cost.

The shares of one stripped unit sum exactly to what was paid for it: a tax
office that taxes the margin wants the purchase price allocated credibly over
the parts.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from triage.domain.catalogue import Catalogue
from triage.domain.job.file import JobFile
from triage.domain.job.records import Kept
from triage.domain.shop.shelf import PartLeft, PartReturned, ShelfMoved, ShelfPart

# What may happen to a part after what last happened to it ("" is nothing yet).
_NEXT: dict[str, tuple[str, ...]] = {
    "": ("reserved", "scrapped", "sold"),
    "released": ("reserved", "scrapped", "sold"),
    "reserved": ("released", "fitted", "scrapped"),
    "fitted": (),
    "scrapped": (),
    "sold": ("released", "scrapped"),  # by its buyer's return alone
}


def last_move(shelf: int, moves: Iterable[Kept[ShelfMoved]]) -> ShelfMoved | None:
    """What last happened to a shelf part; None where nothing has."""
    found = [kept.record for kept in moves if kept.record.shelf == shelf]
    return found[-1] if found else None


def on_hand(
    parts: Iterable[Kept[ShelfPart]], moves: Iterable[Kept[ShelfMoved]]
) -> tuple[Kept[ShelfPart], ...]:
    """Parts that are there and promised to nobody."""
    last = {kept.record.shelf: kept.record.move for kept in moves}
    return tuple(part for part in parts if last.get(part.id, "released") == "released")


def shelf_refusals(
    part: Kept[ShelfPart],
    moves: Iterable[Kept[ShelfMoved]],
    wanted: ShelfMoved,
    pairing: str = "",
    returned: bool = False,
) -> tuple[str, ...]:
    """Why a shelf part may not be moved like this.

    Parameters
    ----------
    pairing : who authorised pairing a paired part with another unit, and how; "" when nobody did.
    returned : its buyer brought it back.
    """
    last = last_move(part.id, moves)
    now, refused = (last.move if last else ""), []
    if wanted.move not in _NEXT[now] or (now == "sold" and not returned):
        status = {"": "on the shelf", "released": "on the shelf"}.get(now, now)
        refused.append(f"this part is {status}: it cannot be {wanted.move}")
    elif last and now == "reserved" and wanted.move != "scrapped" and wanted.job != last.job:
        refused.append("this part is reserved for another job")
    strange = wanted.job is not None and wanted.job != part.record.donor
    if wanted.move == "reserved" and part.record.paired and strange and not pairing.strip():
        refused.append(
            "this part is paired to its donor device: enter who authorised pairing it with another, and how"
        )
    return tuple(refused)


def sale_refusals(part: ShelfPart, left: PartLeft, catalogue: Catalogue) -> tuple[str, ...]:
    """Why a part may not be sold like this; a part whose data cannot be erased is never sold."""
    refused = []
    if not left.person.strip():
        refused.append("enter the buyer")
    if left.price_minor < 0 or left.fees_minor < 0:
        refused.append("enter price and fees of 0 or more")
    told = catalogue.parts.get(part.part)
    if told is not None and told.holds_data and not part.wiped.strip():
        refused.append(
            f"the {told.name} holds data: it is never sold unless they were erased, with the proof recorded; "
            "otherwise use it yourself or have it destroyed"
        )
    return tuple(refused)


def return_refusals(
    sale: Kept[PartLeft] | None, returned: Iterable[Kept[PartReturned]], back: PartReturned
) -> tuple[str, ...]:
    """Why a sold part cannot be returned like this."""
    if sale is None or sale.record.how != "sold":
        return ("this part was not sold",)
    refused = []
    if any(kept.record.left == sale.id for kept in returned):
        refused.append("this part was returned already")
    if not 0 <= back.refund_minor <= sale.record.price_minor:
        refused.append("the refund must be between 0 and the price of the part")
    if back.on < sale.record.on:
        refused.append("a part cannot be returned before it was sold")
    return tuple(refused)


@dataclass(frozen=True)
class PartsMoney:
    """What the parts of one stripped device brought, minor units.

    income : prices less refunds. fees : fees and postage. margin : sum over parts of what each brought
    above its share of the purchase price, 0 for one that brought less: what the margin scheme taxes.
    cost_gone, worth_gone : shares and worth of the parts that are sold or scrapped.
    """

    income: int = 0
    fees: int = 0
    margin: int = 0
    cost_gone: int = 0
    worth_gone: int = 0


def parts_money(file: JobFile) -> PartsMoney:
    """Add up what parts of a device brought, and which of them are gone."""
    total = PartsMoney()
    for kept in file.parts_left:
        left = kept.record
        back = next((back.record for back in file.parts_returned if back.record.left == kept.id), None)
        gone = back is None or back.to != "shelf"
        total = PartsMoney(
            total.income + left.price_minor - (back.refund_minor if back else 0),
            total.fees + left.fees_minor,
            total.margin + taxable_minor(left, back),
            total.cost_gone + gone * left.cost_minor,
            total.worth_gone + gone * (left.worth_minor or 0),
        )
    return total


def taxable_minor(left: PartLeft, back: PartReturned | None) -> int:
    """What a part brought above its share of the purchase price, 0 or more, minor units.

    Of a part that is back on the shelf the share goes with its next sale, so all that was kept counts.
    """
    if left.how != "sold":
        return 0
    share = 0 if back is not None and back.to == "shelf" else left.cost_minor
    return max(0, left.price_minor - (back.refund_minor if back else 0) - share)


def cost_shares(total_minor: int, values: Sequence[float]) -> tuple[int, ...]:
    """Share a cost over parts by what they are worth; the shares sum to it exactly.

    Parameters
    ----------
    total_minor : what was paid, minor units, 0 or more.
    values : worth of each part, any unit, finite and 0 or more; equal shares where all are 0.

    Returns
    -------
    tuple of int : minor units, one a part, each within one unit of its exact
        share (largest remainder; of equal remainders the earlier part).
    """
    if not values:
        return ()
    weights = list(values) if any(values) else [1.0] * len(values)
    parts = [Fraction(weight) for weight in weights]
    exact = [total_minor * part / sum(parts) for part in parts]
    shares = [int(share) for share in exact]
    order = sorted(range(len(exact)), key=lambda i: shares[i] - exact[i])
    for index in order[: total_minor - sum(shares)]:
        shares[index] += 1
    return tuple(shares)
