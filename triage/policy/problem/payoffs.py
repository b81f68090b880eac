"""What a unit is worth when it is finished or stopped: fees and tax, path by path.

Tax on second-hand goods: under the margin scheme the tax is r/(1+r) of what
the sale brings over the purchase price, nothing when it brings less, and no
repair or part may be added to the purchase price (Dir. 2006/112/EC art.
311-325; published official example in `tests/policy/problem/test_payoffs.py`). This is
orientation, not tax advice.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Generic, TypeVar

import numpy as np

from triage.arrays import Floats, Ints
from triage.domain.shop.settings import Fees, Settings, Tax
from triage.policy.problem.shared import SharedSale, beyond

# One amount of money, or an array of them.
Amount = TypeVar("Amount", float, Floats)
Paid = TypeVar("Paid", float, Floats)


def tax_on(tax: Tax, price: Floats, paid: float | Floats) -> Floats:
    """Tax contained in a price, money.

    Parameters
    ----------
    price : what the buyer pays, tax included.
    paid : purchase price of the goods.
    """
    part = tax.rate / (1.0 + tax.rate)
    if tax.scheme == "standard":
        return part * np.asarray(price)
    if tax.scheme == "second-hand-margin":
        return part * np.maximum(0.0, np.asarray(price) - paid)
    return np.zeros_like(np.asarray(price, dtype=float))


def comeback_cost(settings: Settings, price: Amount, rework: Amount, owned: bool) -> Amount:
    """Money lost by one comeback: rework, or a refund less what the unit then fetches.

    price : what the buyer paid for a unit of ours. rework : labour and parts of
    one repair done again; all that an owner's device costs.
    """
    if not owned:
        return rework
    refund = price * (1.0 - settings.resale_after_refund_share)
    return settings.comeback_refund_share * refund + (1.0 - settings.comeback_refund_share) * rework


@dataclass(frozen=True)
class Purse:
    """Money lines of one ending on one path, all positive; `net` is what stays."""

    price: Floats
    fees: Floats
    tax: Floats

    @property
    def net(self) -> Floats:
        """Price less fees and tax."""
        return self.price - self.fees - self.tax


@dataclass(frozen=True)
class PurchaseTerms(Generic[Paid]):
    """A unit bought, repaired and sold, or stripped.

    sale : ndarray, shape (3, path), sale price at grade 0, 1, 2.
    parts_value : what its parts fetch as it lies.
    paid : purchase price, or an array of them, shape (price,).
    shared_sale : how the sale price moves with the posterior draw.
    """

    sale: Floats
    parts_value: float
    paid: Paid
    fees: Fees
    tax: Tax
    shared_sale: SharedSale = field(default_factory=SharedSale)

    def at(self, paid: Amount) -> PurchaseTerms[Amount]:
        """The same unit at another price."""
        terms = PurchaseTerms(self.sale, self.parts_value, paid, self.fees, self.tax, self.shared_sale)
        terms.__dict__["_mean"] = self._mean  # of the sale alone, whatever is paid
        if self.tax.scheme == "second-hand-margin":
            terms.__dict__["_ordered"] = self._ordered
        return terms

    @property
    def upfront(self) -> Paid:
        """Money gone once it is bought: price, buyer's premium, postage, consumables."""
        fees = self.fees
        return self.paid * (1.0 + fees.buyer_fee_share) + fees.inbound_postage + fees.consumables

    def finish_purse(self, grade: Ints, path: Ints) -> Purse:
        """Money lines of a sale at a grade on a path."""
        price = self.sale[grade, path]
        return Purse(
            price, self._selling(price) + self.fees.outbound_postage, tax_on(self.tax, price, self.paid)
        )

    def stop_purse(self, salvage: Floats, recovered: Floats) -> Purse:
        """Money lines of stripping: surviving share of the parts value, and fitted parts."""
        price = self.parts_value * salvage + recovered
        return Purse(price, self._selling(price) + self.fees.disposal, tax_on(self.tax, price, self.paid))

    def finish(self, grade: Ints) -> Floats:
        """Expected net money of a sale at each grade given, shape (grade,) or (grade, price)."""
        mean = self._mean
        untaxed = mean - self._selling(mean) - self.fees.outbound_postage
        part = self.tax.rate / (1.0 + self.tax.rate)
        if self.tax.scheme == "second-hand-margin":
            taxed = self._beyond_paid()
        else:
            taxed = np.broadcast_to(mean.reshape(-1, *([1] * np.ndim(self.paid))), (3, *np.shape(self.paid)))
            part = part if self.tax.scheme == "standard" else 0.0
        net: Floats = (untaxed.reshape(-1, *([1] * np.ndim(self.paid))) - part * taxed)[grade]
        return net

    @cached_property
    def best_finish(self) -> Floats:
        """Expected net money of a sale at the best grade, shape () or (price,)."""
        best: Floats = self.finish(np.arange(3)).max(axis=0)
        return best

    def finish_by_draw(self) -> Floats:
        """Expected net money of a sale at one price paid, given each draw, shape (grade, draw)."""
        price = self.shared_sale.beyond(self._mean, 0.0)
        scheme, part = self.tax.scheme, self.tax.rate / (1.0 + self.tax.rate)
        if scheme == "second-hand-margin":
            taxed = self.shared_sale.beyond(self._mean, float(self.paid))
        else:
            taxed = price if scheme == "standard" else np.zeros_like(price)
        return price - self._selling(price) - self.fees.outbound_postage - part * taxed

    def stop(self, salvage: Floats, recovered: Floats) -> Floats:
        """Net money of stripping, shape (state,) or (state, price)."""
        if np.ndim(self.paid):
            salvage, recovered = np.asarray(salvage)[:, None], np.asarray(recovered)[:, None]
        return self.stop_purse(salvage, recovered).net

    def part(self, price: Floats, spread: float, share: float) -> Floats:
        """Expected net money of one part that is sold, shape (row,) or (row, price).

        Parameters
        ----------
        price : ndarray, shape (row,), what it fetches on average.
        spread : standard deviation of that over its mean; the price is log-normal.
        share : of what was paid for the unit that falls to this part.
        """
        mean = price.reshape(-1, *([1] * np.ndim(self.paid)))
        part, taxed = self.tax.rate / (1.0 + self.tax.rate), mean
        if self.tax.scheme == "second-hand-margin":
            taxed = beyond(mean, float(np.sqrt(np.log1p(spread**2))), share * np.asarray(self.paid))
        part = 0.0 if self.tax.scheme == "none" else part
        net: Floats = mean - self._selling(mean) - part * taxed
        return net

    def part_purse(self, price: Floats, share: float) -> Purse:
        """Money lines of one part sold at some prices."""
        return Purse(price, self._selling(price), tax_on(self.tax, price, share * self.paid))

    def _beyond_paid(self) -> Floats:
        """Expected part of the sale price over the price paid, by grade: (3,) or (3, price)."""
        ordered, above = self._ordered
        count = ordered.shape[1]
        place = np.stack([np.searchsorted(row, self.paid) for row in ordered])
        sums = np.stack([row[at] for row, at in zip(above, place, strict=True)])
        beyond: Floats = (sums - (count - place) * self.paid) / count
        return beyond

    @cached_property
    def _mean(self) -> Floats:
        """Expected sale price by grade, shape (3,)."""
        mean: Floats = self.sale.mean(axis=1)
        return mean

    @cached_property
    def _ordered(self) -> tuple[Floats, Floats]:
        """Sale prices in rising order, and the sum of each and those after it, shape (3, path + 1)."""
        ordered = np.sort(self.sale, axis=1)
        above = np.zeros((len(ordered), ordered.shape[1] + 1))
        above[:, :-1] = np.cumsum(ordered[:, ::-1], axis=1)[:, ::-1]
        return ordered, above

    def _selling(self, price: Floats) -> Floats:
        return price * (self.fees.selling_share + self.fees.payment_share)


@dataclass(frozen=True)
class WalkInTerms:
    """An owner's device repaired at a fixed price or returned.

    quote : price for everything working, tax and any diagnostic fee included.
    share : ndarray, shape (3,), share of the quote still due at each grade: a
        function that could not be restored is not charged for.
    diagnostic_fee : kept when it is returned unfixed; 0 is no fix, no fee.
    """

    quote: float | Floats
    share: Floats
    fees: Fees
    tax: Tax
    diagnostic_fee: float = 0.0

    @property
    def upfront(self) -> float:
        """Consumables; an owner's device costs nothing to take in."""
        return self.fees.consumables

    def finish_purse(self, grade: Ints, path: Ints) -> Purse:
        """Money lines of a finished repair; a service is taxed on its full price."""
        return self._paid(np.maximum(self.quote * self.share[grade], self.diagnostic_fee))

    def stop_purse(self, salvage: Floats, recovered: Floats) -> Purse:
        """Returned unfixed with all its parts: the diagnostic fee if there is one, nothing to strip."""
        return self._paid(np.full_like(np.asarray(salvage, dtype=float), self.diagnostic_fee))

    def finish(self, grade: Ints) -> Floats:
        """Net money of a finished repair at each grade given."""
        return self.finish_purse(grade, grade).net

    def finish_by_draw(self) -> Floats:
        """Net money of a finished repair by grade, shape (grade, 1): the price is agreed."""
        return self.finish(np.arange(len(self.share)))[:, None]

    def stop(self, salvage: Floats, recovered: Floats) -> Floats:
        """Net money of a return."""
        return self.stop_purse(salvage, recovered).net

    def _paid(self, price: Floats) -> Purse:
        part = 0.0 if self.tax.scheme == "none" else self.tax.rate / (1.0 + self.tax.rate)
        return Purse(price, price * self.fees.payment_share, price * part)
