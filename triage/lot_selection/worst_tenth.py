"""Which devices to take so that the worst tenth of what may come is as good as can be.

What is made great, exactly: the mean of the worst 1 in 10 of the margin of all
devices taken together, whose distribution is the mixture of `lot_risk`: given
posterior draw d (all D are used, each as likely) it is normal with mean
`sum x_i m_id` and variance `sum x_i v_i`, where m_id is device i's expected margin
under that draw and v_i the variance of its own luck. No scenario is sampled, so
nothing is fitted to the luck of a sample.

By Rockafellar and Uryasev's formula that mean is the maximum over a threshold a
of `a - E[(a - M)+] / share`: jointly concave in x and in the deviation s of the
luck when both are free, so at any point it lies under its tangent
`weights @ m_i x_i - density * s` (the cuts of Kuenzi-Bay and Mayer). Two
things are joined to make an integer programme of it:

* cuts, added at each choice tried, bound the mean from above;
* s is the root of a linear function of x. A root lies above its secants, so
  between marks s is bounded from below by secants, one piece chosen by a 0/1
  variable; a mark is added at each choice tried, where the bound is then exact.

So the programme's optimum is an upper bound that is exact at every choice
tried, and the search ends when the best choice tried meets it.

References
----------
Rockafellar, R. T. and Uryasev, S. 2000, "Optimization of conditional
value-at-risk", Journal of Risk 2:21 (their loss is minus our margin) [memory].
Kuenzi-Bay, A. and Mayer, J. 2006, "Computational aspects of minimizing
conditional value-at-risk", Computational Management Science 3:3 [memory].
"""

from __future__ import annotations

import time
from dataclasses import dataclass, field

import numpy as np
from scipy.optimize import Bounds, LinearConstraint
from scipy.sparse import csr_array, vstack

from triage.lot_selection.best_choice import Choice, best_choice, greedy_choice
from triage.lot_selection.integer_programme import solve
from triage.lot_selection.limits import Offers
from triage.lot_selection.lot_risk import tail_weights
from triage.policy.solver.spread import TAIL

SECONDS = 30.0
_GAP = 1e-4  # of the value, and at least this much money
_FIRST_MARKS = 12


class Cuts:
    """What a search learnt that holds under any limits: pass it on to the next search of the same offers."""

    def __init__(self) -> None:
        self.slopes: list[np.ndarray] = []
        self.densities: list[float] = []
        self.marks: set[float] = set()


def worst_tenth_choice(
    offers: Offers, share: float = TAIL, seconds: float = SECONDS, cuts: Cuts | None = None
) -> Choice:
    """Choose for the greatest mean of the worst `share` of outcomes; nothing taken is worth 0.

    Parameters
    ----------
    cuts : of an earlier search of the same offers under other limits; grows.
    """
    if not len(offers.places):
        return Choice(np.zeros(0, dtype=bool), 0.0, 0.0)
    until = time.monotonic() + seconds
    search = _CutSearch(offers, share, cuts or Cuts())
    for taken in (offers.forced, best_choice(offers, seconds / 3).taken, greedy_choice(offers).taken):
        search.try_out(taken)
    while (left := until - time.monotonic()) > 0 and not search.proved:
        asked, bound = search.ask(left)
        search.bound = min(search.bound, bound)
        if asked is None or search.try_out(asked):
            break  # out of time, or the same choice again: the bound there is exact
    return Choice(search.best, search.value, max(search.bound, search.value))


@dataclass
class _CutSearch:
    """Choices tried, and the cuts and marks that they left.

    unit : money that one unit of the programme's numbers stands for, so that
        none of them is far from 1.
    """

    offers: Offers
    share: float
    cuts: Cuts
    value: float = -np.inf
    bound: float = np.inf
    tried: set[bytes] = field(default_factory=set)

    def __post_init__(self) -> None:
        luck = self.offers.luck
        self.best = np.zeros(len(luck), dtype=bool)
        self.unit = max(float(np.sqrt(luck.sum())), float(np.abs(self.offers.margins).max()), 1.0)
        most, least = float(luck.sum()), float(luck[luck > 0].min(initial=np.inf))
        self.cuts.marks |= {0.0, most}
        if 0 < least < most:
            self.cuts.marks |= set(np.geomspace(least, most, _FIRST_MARKS))

    @property
    def proved(self) -> bool:
        """Whether no choice can be better by more than a trifle."""
        return self.bound - self.value <= _GAP * max(1.0, abs(self.value))

    def try_out(self, taken: np.ndarray) -> bool:
        """Value a choice, and leave its cut and mark; True when it was tried before."""
        key = taken.tobytes()
        if key in self.tried:
            return True
        self.tried.add(key)
        draws, variance = self.offers.draws, float(self.offers.luck[taken].sum())
        deviation = np.sqrt(variance)
        weights, density = tail_weights(draws[taken].sum(axis=0), deviation, self.share)
        slope = draws @ weights
        value = float(slope[taken].sum() - density * deviation)
        if value > self.value:
            self.value, self.best = value, taken.copy()
        self.cuts.slopes.append(slope)
        self.cuts.densities.append(density)
        self.cuts.marks.add(variance)
        return False

    def ask(self, seconds: float) -> tuple[np.ndarray | None, float]:
        """Solve the programme: the choice that looks best, and a bound on every choice.

        Columns: x (offer), the mean t, the deviation s, then for each piece
        between marks its share of the variance and whether it is the piece.
        """
        offers, unit = self.offers, self.unit
        marks = np.array(sorted(self.cuts.marks)) / unit**2
        count, pieces = len(offers.luck), len(marks) - 1
        t, s = count, count + 1
        variance = np.arange(pieces) + count + 2
        chosen = variance + pieces
        width = count + 2 + 2 * pieces
        low, high = marks[:-1], marks[1:]
        rise = (np.sqrt(high) - np.sqrt(low)) / np.maximum(high - low, 1e-300)
        rows, tops, bottoms = [], [], []

        def row(places: np.ndarray | list, values: np.ndarray | list, bottom: float, top: float) -> None:
            line = np.zeros((1, width))
            line[0, places] = values
            rows.append(csr_array(line))
            bottoms.append(bottom)
            tops.append(top)

        every = np.arange(count)
        for use, limit in zip(offers.uses, offers.limits, strict=True):
            row(every, use, -np.inf, limit)
        for slope, density in zip(self.cuts.slopes, self.cuts.densities, strict=True):
            row([*every, t, s], [*-slope / unit, 1.0, density], -np.inf, 0.0)
        if pieces:
            row([*every, *variance], [*offers.luck / unit**2, *-np.ones(pieces)], 0.0, 0.0)
            row(chosen, np.ones(pieces), 1.0, 1.0)
            row([s, *variance, *chosen], [1.0, *-rise, *-(np.sqrt(low) - rise * low)], 0.0, np.inf)
            for piece in range(pieces):
                row([variance[piece], chosen[piece]], [1.0, -low[piece]], 0.0, np.inf)
                row([variance[piece], chosen[piece]], [1.0, -high[piece]], -np.inf, 0.0)
        goal = np.zeros(width)
        goal[t] = -1.0
        whole = np.zeros(width)
        whole[every], whole[chosen] = 1, 1
        floor, ceiling = np.zeros(width), np.full(width, np.inf)
        floor[every], ceiling[every] = offers.forced, 1.0
        floor[t], ceiling[chosen] = -np.inf, 1.0
        bounded = LinearConstraint(vstack(rows, format="csr"), bottoms, tops)
        found = solve(goal, bounded, whole, Bounds(floor, ceiling), _GAP / 4, seconds)
        return (None if found.x is None else found.x[:count] > 0.5), -found.bound * unit
