"""Which devices to take so that the expected margin is greatest within the limits.

An integer programme, solved to optimality by branch and bound (HiGHS); greedy
by margin per bench hour is kept beside it, as what a person with a list and a
pencil would do.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import Bounds, LinearConstraint

from triage.lot_selection.integer_programme import solve
from triage.lot_selection.limits import Offers

SECONDS = 20.0
_GAP = 1e-7


@dataclass(frozen=True)
class Choice:
    """Some of the offers.

    taken : ndarray of bool, shape (offer,).
    value : what was to be made great, money.
    bound : no choice within the limits has more than this, money.
    """

    taken: np.ndarray
    value: float
    bound: float

    @property
    def gap(self) -> float:
        """How much a better choice could bring at most, money."""
        return max(self.bound - self.value, 0.0)


def best_choice(offers: Offers, seconds: float = SECONDS) -> Choice:
    """Choose for the greatest expected margin; a device that must be in is in."""
    if not len(offers.places):
        return Choice(np.zeros(0, dtype=bool), 0.0, 0.0)
    found = solve(
        -offers.margins,
        LinearConstraint(offers.uses, ub=offers.limits) if len(offers.limits) else None,
        np.ones(len(offers.places)),
        Bounds(offers.forced.astype(float), 1.0),
        _GAP,
        seconds,
    )
    greedy = greedy_choice(offers)
    bound = -found.bound
    if found.x is None:  # out of time before any choice was found
        return Choice(greedy.taken, greedy.value, bound)
    taken = found.x > 0.5
    value = float(offers.margins[taken].sum())
    if greedy.value > value:
        taken, value = greedy.taken, greedy.value
    return Choice(taken, value, max(bound, value))


def greedy_choice(offers: Offers) -> Choice:
    """Go down the list by margin per bench hour and take whatever still fits."""
    taken = offers.forced.copy()
    used = offers.uses[:, taken].sum(axis=1)
    hourly = offers.margins / np.maximum(offers.minutes / 60.0, 1e-9)
    for place in np.argsort(-hourly, kind="stable"):
        wanted = used + offers.uses[:, place]
        if not taken[place] and offers.margins[place] > 0 and (wanted <= offers.limits + 1e-9).all():
            taken[place], used = True, wanted
    return Choice(taken, float(offers.margins[taken].sum()), np.inf)
