"""From a scored lot to a choice: which units to take, and what the lot is worth as a whole."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from triage.domain.shop.settings import Settings
from triage.errors import LotChoiceError, nearest
from triage.lot_selection.best_choice import Choice, best_choice, greedy_choice
from triage.lot_selection.limits import Limits, Offers, offers
from triage.lot_selection.lot_choice import ByHand, LotChoice, UnitLine, Wanted, WholeWords, Work
from triage.lot_selection.lot_risk import lot_risk, tail_mean
from triage.lot_selection.scored_lot import ScoredLot
from triage.lot_selection.whole_lot import LotTerms, WholeLot, whole_lot
from triage.lot_selection.worst_tenth import Cuts, worst_tenth_choice
from triage.policy.answer.verdict import CHECK, PARTS, TAKE
from triage.workflows.shop.shop import Shop

CASH_STEP = 100.0
# Raised when the figures of a scored lot come to mean something else: one scored before is scored again.
_FORM = 2
# Tax on the margin alone falls with the price a unit bears: scored again at its share, this often.
_AGAIN = 2


def choose_from_lot(lot: ScoredLot, settings: Settings, wanted: Wanted) -> LotChoice:
    """Choose the units to take at their asking prices.

    Those may be taken that carry a price at which the shop's go rule takes
    them; one that waits for a check does not. A unit that must be in is in
    unless ownership or an open check forbids.

    Raises
    ------
    LotChoiceError : a label or tier that the lot does not know; a unit that must
        be in and may not be; units that must be in and break a limit.
    """
    limits = _limits(lot, wanted)
    fees = settings.fees
    outlays = lot.prices * (1.0 + fees.buyer_fee_share) + fees.inbound_postage
    good = [verdict in (TAKE, PARTS) for verdict in lot.verdicts]
    may = (np.array(good, dtype=bool) & np.isfinite(lot.prices)) | np.isin(
        np.arange(len(good)), list(limits.must)
    )
    search = _BidSearch(lot, np.flatnonzero(may), outlays, wanted, limits)
    given, choice = search.choose()
    by_hand = greedy_choice(given)
    places = given.places[choice.taken]
    risk = lot_risk(
        lot.margin_draws[places].sum(axis=0) if len(places) else np.zeros(1),
        float(lot.luck_variances[places].sum()),
    )
    value = search.value(given, choice.taken)
    taken = frozenset(int(place) for place in places)
    return LotChoice(
        currency=lot.currency,
        wanted=wanted,
        lines=tuple(_line(lot, place, place in taken) for place in range(len(lot.labels))),
        bad_rows=lot.bad_rows,
        offered=int(may.sum()),
        outlay=float(outlays[places].sum()),
        hours=float(lot.minutes[places].sum() / 60.0),
        risk=risk,
        value=value,
        short_by=round(choice.gap, 6),
        by_hand=ByHand(
            int(by_hand.taken.sum()),
            by_hand.value,
            search.value(given, by_hand.taken),
            value - search.value(given, by_hand.taken),
        ),
        hour_worth=search.worth(value, hours=1.0) if wanted.hours is not None else None,
        cash_worth=search.worth(value, cash=CASH_STEP) if wanted.cash is not None else None,
        cash_step=CASH_STEP,
    )


def bid_for_whole(
    lot: ScoredLot, score: Callable[[Sequence[float]], ScoredLot], settings: Settings, terms: LotTerms
) -> WholeLot:
    """The most to pay for a lot as a whole.

    Parameters
    ----------
    lot : scored at no price.
    score : scores the same units at the prices given, one a unit.
    """
    fees, rule = settings.fees, settings.go_rule
    whole = whole_lot(lot, np.zeros(len(lot.labels)), terms, rule, fees)
    again = _AGAIN if settings.tax.scheme == "second-hand-margin" and settings.tax.rate > 0 else 0
    for _ in range(again):
        if not whole.bid:
            break
        # The bid rises with each scoring, and stays one at which the rule holds.
        prices = whole.bid * whole.shares
        whole = whole_lot(score(prices.tolist()), prices, terms, rule, fees)
    return whole


def scored_for(shop: Shop) -> str:
    """Mark of what a lot is scored with: settings, prices, beliefs, draws. Another mark: score it again."""
    told = (
        _FORM,
        shop.settings,
        shop.prices,
        shop.priors,
        shop.posterior.manifest.folder,
        shop.catalogue.digest,
    )
    return hashlib.sha256(repr(told).encode()).hexdigest()[:16]


def in_counts(whole: WholeLot, terms: LotTerms) -> WholeWords:
    """A whole lot in counts, and what is done with each of its units."""
    places: dict[Work, tuple[int, ...]] = {
        "repair": whole.repaired, "strip": whole.stripped, "leave": whole.left, "not ours": whole.refused,
    }  # fmt: skip
    work = {place: name for name, some in places.items() for place in some}
    return WholeWords(
        whole.bid,
        whole.stopped_by,
        len(whole.repaired),
        len(whole.stripped),
        len(whole.left),
        len(whole.refused),
        whole.bad_rows,
        terms.bad_row_value,
        terms.freight,
        whole.minutes / 60.0,
        whole.worth,
        whole.risk,
        tuple(work[place] for place in range(len(work))),
    )


class _BidSearch:
    """One lot searched under several limits, what was learnt from one passed on to the next."""

    def __init__(
        self, lot: ScoredLot, places: np.ndarray, outlays: np.ndarray, wanted: Wanted, limits: Limits
    ):
        self.lot, self.places, self.outlays = lot, places, outlays
        self.limits, self.worst, self.cuts = limits, wanted.goal == "worst", Cuts()

    def choose(self, hours: float = 0.0, cash: float = 0.0) -> tuple[Offers, Choice]:
        """The best choice, with so much more of a limit."""
        limits, lot = self.limits, self.lot
        if limits.hours is not None:
            limits = replace(limits, hours=limits.hours + hours)
        if limits.cash is not None:
            limits = replace(limits, cash=limits.cash + cash)
        given = offers(
            self.places, lot.margins, lot.margin_draws, lot.luck_variances, self.outlays, lot.minutes,
            lot.tiers, limits,
        )  # fmt: skip
        return given, worst_tenth_choice(given, cuts=self.cuts) if self.worst else best_choice(given)

    def value(self, given: Offers, taken: np.ndarray) -> float:
        """What a choice has of what is wanted, money."""
        if not taken.any():
            return 0.0
        if not self.worst:
            return float(given.margins[taken].sum())
        return tail_mean(given.draws[taken].sum(axis=0), float(np.sqrt(given.luck[taken].sum())))

    def worth(self, value: float, hours: float = 0.0, cash: float = 0.0) -> float:
        """How much more so much more of a limit would bring, by choosing again, money."""
        return max(self.value(*_taken(self.choose(hours, cash))) - value, 0.0)


def _taken(chosen: tuple[Offers, Choice]) -> tuple[Offers, np.ndarray]:
    return chosen[0], chosen[1].taken


def _line(lot: ScoredLot, place: int, taken: bool) -> UnitLine:
    def number(value: float) -> float | None:
        return float(value) if np.isfinite(value) else None

    refused = bool(np.isnan(lot.parts_margins[place]))
    return UnitLine(
        lot.labels[place],
        lot.tiers[place],
        lot.verdicts[place],
        taken,
        number(lot.prices[place]),
        number(lot.highest_bids[place]),
        None if refused else number(lot.margins[place]),
        float(lot.minutes[place]),
        None if refused else number(lot.loss_chances[place]),
        lot.priced_by[place] if lot.priced_by else "",
        lot.limited_by[place] if lot.limited_by else "",
    )


def _limits(lot: ScoredLot, wanted: Wanted) -> Limits:
    """Labels as places, or a refusal that says everything wrong with them."""
    wrong: list[str] = []
    place_of = {label: place for place, label in enumerate(lot.labels)}

    def places(labels: tuple[str, ...]) -> frozenset[int]:
        unknown = [label for label in labels if label not in place_of]
        wrong.extend(f"{label!r} is not in this lot{nearest(label, place_of)}" for label in unknown)
        return frozenset(place_of[label] for label in labels if label in place_of)

    must, never = places(wanted.must), places(wanted.never)
    for place in sorted(must):
        label, verdict = lot.labels[place], lot.verdicts[place]
        if place in never:
            wrong.append(f"{label!r} cannot be both always bought and never bought")
        elif np.isnan(lot.parts_margins[place]):
            wrong.append(f"{label!r} may not be bought: ownership rules it out")
        elif verdict == CHECK:
            wrong.append(f"{label!r} needs a check before you pay for it")
        elif np.isnan(lot.prices[place]):
            wrong.append(f"{label!r} has no asking price")
    tiers = set(lot.tiers)
    wrong += [
        f"{tier!r} is not a price class of this lot{nearest(tier, tiers)}"
        for tier in wanted.most
        if tier not in tiers
    ]
    if wrong:
        raise LotChoiceError("; ".join(wrong))
    return Limits(wanted.cash, wanted.hours, dict(wanted.most), must, never)
