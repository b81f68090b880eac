"""Money of one job to the cent: payments, parts bought, parts of the shelf, parts sold, tax.

At cost, so that the jobs of a shop add up to its cash: a part that goes from one device into another
leaves the first at its share of the price paid and comes into the second at the same. Bench time is not in
it. The money review takes parts of the shelf at their worth instead, or no stripped device could ever lose
its price.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from triage.domain.job.file import JobFile
from triage.domain.job.part_orders import fate_of
from triage.domain.job.records import Purpose
from triage.domain.job.shelf_rules import parts_money, taxable_minor
from triage.domain.shop.settings import Tax
from triage.review.money.sold_parts import tax_minor

Line = Literal[
    "payments", "parts-bought", "input-tax", "shelf-parts-used", "parts-sold", "part-fees",
    "shelf-parts-left", "tax",
]  # fmt: skip
# Fates after which a part of the shelf is not this job's.
_NOT_OURS = ("arrived", "sent-back")
_RECEIVED: tuple[Purpose, ...] = ("sale", "repair", "deposit", "diagnostic-fee", "refund")


@dataclass(frozen=True)
class MoneyLine:
    """One line, minor units, positive where it is received. purpose : of payments."""

    what: Line
    amount: int
    purpose: Purpose | None = None


@dataclass(frozen=True)
class JobMoney:
    """Lines that are not 0, in the order of the work; they sum to `total`."""

    lines: tuple[MoneyLine, ...]

    @property
    def total(self) -> int:
        """What is left of the job before bench time, minor units."""
        return sum(line.amount for line in self.lines)


def job_money(file: JobFile, shelved: int, tax: Tax) -> JobMoney:
    """Add up the money of a job.

    Parameters
    ----------
    shelved : what the parts taken off this device cost together, minor units; 0 where none were.
    """
    paid: dict[Purpose, int] = {}
    for payment in (kept.record for kept in file.payments):
        paid[payment.purpose] = paid.get(payment.purpose, 0) + payment.amount_minor
    parts = parts_money(file)
    bought, input_tax, used = 0, 0, 0
    for kept in file.orders:
        order, fate = kept.record, fate_of(file, kept.id)
        if order.shelf is not None:
            used += order.cost_minor if fate not in _NOT_OURS else 0
        elif fate != "shelved":
            gross = order.cost_minor + order.tax_minor
            refund = sum(one.record.refund_minor for one in file.fates if one.record.order == kept.id)
            bought += gross - refund
            input_tax += order.tax_minor - (order.tax_minor * refund // gross if refund else 0)
    lines = [MoneyLine("payments", amount, purpose) for purpose, amount in paid.items()]
    lines += [
        MoneyLine("parts-bought", -bought),
        # A business that charges tax on its sales gets the tax on its parts back.
        MoneyLine("input-tax", input_tax if tax.scheme != "none" else 0),
        MoneyLine("shelf-parts-used", -used),
        MoneyLine("parts-sold", parts.income),
        MoneyLine("part-fees", -parts.fees),
        # What is sold or scrapped took its share along; the rest is stock, or in another job.
        MoneyLine("shelf-parts-left", shelved - parts.cost_gone if shelved else 0),
        MoneyLine("tax", -_tax(file, paid, tax)),
    ]
    return JobMoney(tuple(line for line in lines if line.amount))


def _tax(file: JobFile, paid: dict[Purpose, int], tax: Tax) -> int:
    """Tax on what the device or the repair brought, and part by part on what its parts brought."""
    received = sum(paid.get(purpose, 0) for purpose in _RECEIVED)
    ours = file.route == "bought"
    above = max(0, received + paid.get("purchase", 0)) if ours else received
    total = tax_minor(tax, received, above, file.currency) if received > 0 else 0
    for kept in file.parts_left:
        sale = kept.record
        back = next((one.record for one in file.parts_returned if one.record.left == kept.id), None)
        brought = sale.price_minor - (back.refund_minor if back else 0)
        total += tax_minor(tax, brought, taxable_minor(sale, back), file.currency)
    return total
