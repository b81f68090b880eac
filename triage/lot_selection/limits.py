"""What a choice from a lot must keep to, as rows of linear constraints."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from triage.errors import LotChoiceError


@dataclass(frozen=True)
class Limits:
    """Limits of a choice; None is no limit.

    cash : money for buying: prices, buyer's premiums and postage, not parts.
    hours : expected bench hours.
    most : by tier, most devices of it.
    must, never : places in the lot of devices that are in, or out, whatever they earn.
    """

    cash: float | None = None
    hours: float | None = None
    most: Mapping[str, int] = field(default_factory=dict)
    must: frozenset[int] = frozenset()
    never: frozenset[int] = frozenset()


@dataclass(frozen=True)
class Offers:
    """The devices that may be chosen, and the limits as `uses @ x <= limits`.

    places : ndarray of int, shape (offer,), place in the lot.
    margins, luck : ndarrays, shape (offer,), expected margin and variance of the
        device's own luck, money and money squared.
    draws : ndarray, shape (offer, draw), expected margin given each posterior draw.
    minutes : ndarray, shape (offer,).
    uses : ndarray, shape (limit, offer), nothing below 0. limits : ndarray, shape (limit,).
    forced : ndarray of bool, shape (offer,), devices that must be in.
    """

    places: np.ndarray
    margins: np.ndarray
    draws: np.ndarray
    luck: np.ndarray
    minutes: np.ndarray
    uses: np.ndarray
    limits: np.ndarray
    forced: np.ndarray


def offers(
    places: np.ndarray,
    margins: np.ndarray,
    draws: np.ndarray,
    luck: np.ndarray,
    outlays: np.ndarray,
    minutes: np.ndarray,
    tiers: tuple[str, ...],
    limits: Limits,
) -> Offers:
    """Put the devices that may be chosen beside what each uses of every limit.

    Parameters
    ----------
    places : ndarray of int, shape (offer,), devices that may be chosen; all other
        arrays, and `tiers`, are over the whole lot.
    outlays : ndarray, shape (unit,), money that buying each takes.

    Raises
    ------
    LotChoiceError : the devices that must be in break a limit by themselves.
    """
    places = np.array([place for place in places if place not in limits.never or place in limits.must], int)
    rows, tops, names = [], [], []
    if limits.cash is not None:
        rows.append(outlays[places])
        tops.append(limits.cash)
        names.append("cash")
    if limits.hours is not None:
        rows.append(minutes[places] / 60.0)
        tops.append(limits.hours)
        names.append("bench hours")
    for tier, count in limits.most.items():
        rows.append(np.array([float(tiers[place] == tier) for place in places]))
        tops.append(float(count))
        names.append(f"devices of price class {tier}")
    uses = np.array(rows).reshape(len(rows), len(places))
    most = np.array(tops)
    forced = np.isin(places, list(limits.must))
    needed = uses[:, forced].sum(axis=1)
    over = [
        f"the devices always bought need {need:,.2f} {name}; the limit is {top:,.2f}"
        for name, need, top in zip(names, needed, most, strict=True)
        if need > top + 1e-9
    ]
    if over:
        raise LotChoiceError("; ".join(over))
    return Offers(
        places, margins[places], draws[places], luck[places], minutes[places], uses, most, forced
    )  # fmt: skip
