"""Parts ordered for a job: when one may be, and which statuses it may have."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from triage.domain.catalogue import Catalogue
from triage.domain.job.file import JobFile
from triage.domain.job.life import STATE_WORDS
from triage.domain.job.owner_consent import part_refusals
from triage.domain.job.records import Fate, Kept, PartFate, PartOrdered
from triage.domain.job.rules import Refusals, held_back
from triage.domain.money import from_minor, money_text

_ORDERING = ("taken", "in-work", "waiting")

# What may become of a part after what last became of it. One that arrives dead
# is claimed from its supplier; a claim ends with money, or with none.
NEXT_FATES: dict[str, tuple[Fate, ...]] = {
    "ordered": ("arrived", "lost", "refunded", "cancelled"),
    "arrived": ("dead-on-arrival", "fitted", "sent-back", "lost", "shelved"),
    "dead-on-arrival": ("claimed",),
    "claimed": ("refunded",),
    "sent-back": ("refunded",),
    "fitted": ("dead-on-arrival",),
    "lost": ("claimed", "arrived"),
    "refunded": (),
    "cancelled": (),
    "shelved": (),
}
# What is done about an order that stripping its device leaves without a use.
OrderChoice = Literal["cancelled", "sent-back", "keep"]


def fate_of(file: JobFile, order: int) -> str:
    """What last became of an order; "ordered" where nothing has yet."""
    fates = [kept.record.fate for kept in file.fates if kept.record.order == order]
    return fates[-1] if fates else "ordered"


def under_way(file: JobFile) -> tuple[Kept[PartOrdered], ...]:
    """Orders that are still to arrive, the one due last at the end; one without a day counts as last."""
    waiting = [kept for kept in file.orders if fate_of(file, kept.id) == "ordered"]
    return tuple(sorted(waiting, key=lambda kept: (kept.record.due is None, kept.record.due or 0)))


def unused_orders(file: JobFile) -> tuple[Kept[PartOrdered], ...]:
    """Parts bought for the job that are still to arrive, or have arrived and are not fitted."""
    return tuple(
        kept for kept in file.orders
        if kept.record.shelf is None and fate_of(file, kept.id) in ("ordered", "arrived")
    )  # fmt: skip


def choice_refusals(file: JobFile, choices: Mapping[int, OrderChoice], catalogue: Catalogue) -> Refusals:
    """Why a device may not be stripped with this done about the parts bought for it."""
    refused = []
    for kept in unused_orders(file):
        order, choice = kept.record, choices.get(kept.id)
        part = catalogue.parts.get(order.part)
        name = part.name if part else order.part
        if choice is None:
            cost = money_text(from_minor(order.cost_minor + order.tax_minor, file.currency), file.currency)
            refused.append(f"choose what happens to the {name} bought for this job ({cost})")
        elif choice not in order_choices(file, kept):
            refused.append(f'the {name} bought for this job cannot be "{choice}"')
    return tuple(refused)


def order_choices(file: JobFile, kept: Kept[PartOrdered]) -> tuple[OrderChoice, ...]:
    """What may be done about a part bought for a job that no longer needs it."""
    if fate_of(file, kept.id) == "ordered":
        return ("cancelled", "keep")
    return ("sent-back", "keep") if kept.record.returnable_until is not None else ("keep",)


def order_refusals(file: JobFile, order: PartOrdered, catalogue: Catalogue) -> Refusals:
    """Why a part may not be ordered, or taken from the shelf, for a job."""
    refused = list(held_back(file))
    if file.state not in _ORDERING:
        refused.append(f"no part can be ordered while the job is {STATE_WORDS[file.state]}")
    if order.part not in catalogue.parts:
        refused.append(f"the catalogue has no part {order.part!r}")
    if order.cost_minor < 0 or order.tax_minor < 0:
        refused.append("cost and tax of a part must be 0 or more")
    cost = order.cost_minor + order.tax_minor
    refused += part_refusals(file, order.part, cost, catalogue)
    if file.route == "walk-in" and not _returnable(order):
        others = [kept.record for kept in file.orders if not _returnable(kept.record)]
        bound = sum(other.cost_minor + other.tax_minor for other in others)
        held = deposits_minor(file)
        if held < bound + cost:
            needed, paid = (
                money_text(from_minor(m, file.currency), file.currency) for m in (bound + cost, held)
            )
            refused.append(f"this part is not returnable: take a deposit of {needed} first ({paid} received)")
    return tuple(refused)


def fate_refusals(file: JobFile, fate: PartFate) -> Refusals:
    """Why this cannot have become of an ordered part."""
    order = next((kept.record for kept in file.orders if kept.id == fate.order), None)
    if order is None:
        return ("this job has no such order",)
    now, refused = fate_of(file, fate.order), []
    if fate.fate not in NEXT_FATES[now]:
        choice = ", ".join(NEXT_FATES[now]) or "nothing more"
        refused.append(f'a part with status "{now}" cannot become "{fate.fate}"; possible now: {choice}')
    if fate.fate == "fitted":
        refused += held_back(file)
        if file.state != "in-work":
            refused.append(f"no part can be fitted while the job is {STATE_WORDS[file.state]}")
    if fate.fate == "sent-back" and order.shelf is None:
        if order.returnable_until is None:
            refused.append("the supplier does not take it back")
        elif fate.on > order.returnable_until:
            refused.append(f"the supplier took it back until {order.returnable_until:%d %b %Y}")
    if order.shelf is not None and fate.fate in ("claimed", "refunded"):
        refused.append("it came from your own shelf: there is no supplier to claim from")
    if order.shelf is not None and fate.fate in ("cancelled", "shelved"):
        refused.append("it came from your own shelf: send it back there")
    if fate.refund_minor and fate.fate not in ("refunded", "cancelled"):
        refused.append('a refund needs the status "refunded" or "cancelled"')
    if not 0 <= fate.refund_minor <= order.cost_minor + order.tax_minor:
        refused.append("the refund must be between 0 and the cost of the part")
    return tuple(refused)


def deposits_minor(file: JobFile) -> int:
    """Deposits that are here."""
    return sum(kept.record.amount_minor for kept in file.payments if kept.record.purpose == "deposit")


def _returnable(order: PartOrdered) -> bool:
    """Whether the shop can get rid of the part again: to its source, or onto its own shelf."""
    return order.returnable_until is not None or order.shelf is not None
