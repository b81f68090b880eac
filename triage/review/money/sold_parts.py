"""Parts that were sold, one by one: what each brought, the tax on it, and what it made.

Under the margin scheme each part is taxed by itself, on what it brought above its share of the price paid
for the device; a part bought new, whose tax came back, is taxed on its whole price (Dir. 2006/112/EC art.
311-325).
This is orientation, not tax advice: local law decides.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from triage.domain.job.records import Kept
from triage.domain.money import from_minor, to_minor
from triage.domain.shop.settings import Tax
from triage.domain.shop.shelf import PartLeft, PartReturned, ShelfPart
from triage.ledger.history.history_cells import guarded
from triage.ledger.history.history_rows import money_cell
from triage.policy.problem.payoffs import tax_on

# Columns of the table of parts sold.
SALES_COLUMNS = (
    "job", "part", "fits", "sold_on", "currency", "price", "refund", "fees", "share_of_cost",
    "taxable_margin", "tax", "margin", "returned_on", "returned_to",
)  # fmt: skip


@dataclass(frozen=True)
class PartSale:
    """A part that was sold, and what it brought, minor units.

    donor : label of the device it came from; "" when it was bought. taxable : of what it brought,
    what tax is due on where the margin is taxed: all of it for a part bought new.
    """

    sale: Kept[PartLeft]
    part: ShelfPart
    donor: str
    back: PartReturned | None
    taxable: int

    @property
    def brought(self) -> int:
        """Price less what was refunded."""
        return self.sale.record.price_minor - (self.back.refund_minor if self.back else 0)

    def tax(self, tax: Tax) -> int:
        """Tax contained in what it brought."""
        return tax_minor(tax, self.brought, self.taxable, self.part.currency)

    def margin(self, tax: Tax) -> int:
        """What it made: brought less fees, tax and, unless it is on the shelf again, what it cost."""
        here = self.back is not None and self.back.to == "shelf"
        cost = 0 if here else self.sale.record.cost_minor
        return self.brought - self.sale.record.fees_minor - self.tax(tax) - cost


def tax_minor(tax: Tax, brought: int, taxable: int, currency: str) -> int:
    """Tax on an amount, minor units, half away from zero; `taxable` of it where the margin is taxed."""
    base = taxable if tax.scheme == "second-hand-margin" else brought
    return to_minor(float(tax_on(tax, np.asarray(from_minor(base, currency)), 0.0)), currency)


def sales_table(sales: Iterable[PartSale], tax: Tax) -> list[dict[str, str]]:
    """One row a sold part for a file: amounts in major units, and no buyer."""
    rows = []
    for one in sales:
        sale, currency = one.sale.record, one.part.currency
        amounts = {
            "price": sale.price_minor,
            "refund": one.back.refund_minor if one.back else None,
            "fees": sale.fees_minor,
            "share_of_cost": sale.cost_minor,
            "taxable_margin": one.taxable,
            "tax": one.tax(tax),
            "margin": one.margin(tax),
        }
        rows.append({
            "job": guarded(one.donor),
            "part": sale.part,
            "fits": guarded(one.part.model or one.part.tier),
            "sold_on": sale.on.isoformat(),
            "currency": currency,
            **{name: money_cell(amount, currency) for name, amount in amounts.items()},
            "returned_on": one.back.on.isoformat() if one.back else "",
            "returned_to": one.back.to if one.back else "",
        })  # fmt: skip
    return rows
