"""Parts on the shop's own shelf: what is on hand, who may have it, what it cost.

The shares of one stripped unit sum exactly to what was paid for it: a tax
office that taxes the margin wants the purchase price allocated credibly over
the parts.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

from triage.domain.job.records import Kept
from triage.domain.shop.shelf import ShelfMoved, ShelfPart

# What may happen to a part after what last happened to it ("" is nothing yet).
_NEXT: dict[str, tuple[str, ...]] = {
    "": ("reserved", "scrapped", "sold"),
    "released": ("reserved", "scrapped", "sold"),
    "reserved": ("released", "fitted", "scrapped"),
    "fitted": (),
    "scrapped": (),
    "sold": (),
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
    part: Kept[ShelfPart], moves: Iterable[Kept[ShelfMoved]], wanted: ShelfMoved, pairing: str = ""
) -> tuple[str, ...]:
    """Why a shelf part may not be moved like this.

    Parameters
    ----------
    pairing : who authorised pairing a paired part with another unit, and how; "" when nobody did.
    """
    last = last_move(part.id, moves)
    now, refused = (last.move if last else ""), []
    if wanted.move not in _NEXT[now]:
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
