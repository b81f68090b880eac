"""What stopping is worth in every state: which parts to take out, which of them to test, how far to open.

A set is chosen, not a list: opening is paid once for all that lies behind it, and a part is taken out
only where it brings more than its minutes cost.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from triage.arrays import Floats, Ints
from triage.policy.problem.parts.unit_parts import UnitPart
from triage.policy.problem.payoffs import PurchaseTerms, Purse
from triage.policy.problem.problem import PlanProblem
from triage.policy.solver.parts.chances import PartChances

# Terms of a purchase at one price, or at several.
Priced = PurchaseTerms[float] | PurchaseTerms[Floats]
# What is done with a part: it stays in, is taken out and sold untested, or tested first.
LEFT, UNTESTED, TESTED = 0, 1, 2


@dataclass(frozen=True)
class Stopping:
    """Stopping in each state, under each of several terms.

    money : ndarray, shape (state, case), what it brings, bench minutes taken off.
    minutes : ndarray, shape (state, case), bench minutes.
    taken : ndarray of int8, shape (part, state, case): `LEFT`, `UNTESTED` or `TESTED`.
    """

    money: Floats
    minutes: Floats
    taken: NDArray[np.int8]

    def cases(self, cases: slice) -> Stopping:
        """Under some of the terms."""
        return Stopping(self.money[:, cases], self.minutes[:, cases], self.taken[:, :, cases])

    def over(self, count: int) -> Stopping:
        """The same under so many terms: one case stands for all."""
        states = len(self.money)
        return Stopping(
            np.broadcast_to(self.money, (states, count)),
            np.broadcast_to(self.minutes, (states, count)),
            np.broadcast_to(self.taken, (len(self.taken), states, count)),
        )


def bundle(net: Floats, minutes: Floats, rate: float) -> Stopping:
    """Parts valued together, or an owner's device returned: nothing to choose.

    Parameters
    ----------
    net : ndarray, shape (state,) or (state, case), what is kept of the price.
    minutes : ndarray, shape (state,).
    """
    net = net.reshape(len(net), -1)
    spent = np.broadcast_to(minutes[:, None], net.shape)
    return Stopping(net - (minutes * rate)[:, None], spent, np.zeros((0, *net.shape), dtype=np.int8))


def stripped(
    problem: PlanProblem, chances: PartChances, access: Ints, recovered: Floats, terms: Priced
) -> Stopping:
    """The best set of parts to take out in some states, at every price of the terms.

    Parameters
    ----------
    access : ndarray of int, shape (state,), how far it is open.
    recovered : ndarray, shape (state,), what the parts fitted so far fetch, money.
    """
    cases = int(np.size(terms.paid))
    fixed = terms.part(recovered, 0.0, 0.0).reshape(len(access), -1) - terms.fees.disposal
    gained = [_gained(problem, part, chances, place, terms) for place, part in enumerate(problem.parts)]
    best = np.full((len(access), cases), -np.inf)
    minutes = np.zeros_like(best)
    taken = np.zeros((len(problem.parts), len(access), cases), dtype=np.int8)
    for depth, opening in _openings(problem, access):
        money, spent = (
            -opening[:, None] * problem.rate + np.zeros_like(best),
            opening[:, None] + np.zeros_like(best),
        )
        for part, (worth, minutes_of, _) in zip(problem.parts, gained, strict=True):
            if part.access <= depth:
                money += worth
                spent += minutes_of
        better = money > best
        np.copyto(best, money, where=better)
        np.copyto(minutes, spent, where=better)
        for place, (part, (_, _, how)) in enumerate(zip(problem.parts, gained, strict=True)):
            np.copyto(taken[place], how if part.access <= depth else np.int8(LEFT), where=better)
    return Stopping(best + fixed, minutes, taken)


def expected_purse(
    problem: PlanProblem, chances: PartChances, stopping: Stopping, recovered: Floats, terms: Priced
) -> Purse:
    """Expected money lines of stripping, at one price, shape (state,) each."""
    price = np.array(recovered)
    for place, part in enumerate(problem.parts):
        how, good, proven = (each[place] for each in (stopping.taken[..., 0], chances.good, chances.proven))
        tested = proven + (good - proven) * part.untested
        fetched = np.select([how == UNTESTED, how == TESTED], [good * part.untested, tested], 0.0)
        price += part.price * chances.level[place] * fetched
    fees = price * (terms.fees.selling_share + terms.fees.payment_share) + terms.fees.disposal
    net = stopping.money[:, 0] + stopping.minutes[:, 0] * problem.rate
    return Purse(price, fees, price - fees - net)


def _openings(problem: PlanProblem, access: Ints) -> Iterator[tuple[int, Floats]]:
    """Yield each depth of access with the bench minutes to open so far, shape (state,).

    One that a state is past already costs it nothing more, and offers no less than the depth it has.
    """
    doubt = problem.stop_minutes[0] - problem.stop_minutes[1]
    for depth in range(len(problem.access_minutes) + 1):
        minutes = np.zeros(len(access))
        for level, each in enumerate(problem.access_minutes[:depth]):
            minutes += np.where(access <= level, each + (doubt if level == 0 else 0.0), 0.0)
        minutes = minutes + problem.stop_minutes[1]
        yield (
            depth,
            np.where(access > depth, np.inf, minutes) if depth < len(problem.access_minutes) else minutes,
        )


def _gained(
    problem: PlanProblem, part: UnitPart, chances: PartChances, place: int, terms: Priced
) -> tuple[Floats, Floats, NDArray[np.int8]]:
    """Money over leaving it in, its minutes, and what is done with it, each of shape (state, case)."""
    good, proven = (each[place][:, None] for each in (chances.good, chances.proven))
    whole, untested = part_worth(part, chances.levels[place], terms)
    minutes = np.array([0.0, part.minutes, part.minutes + part.test_minutes])
    ways = np.stack(
        [
            np.zeros(np.broadcast_shapes(good.shape, whole.shape)),
            good * untested - minutes[1] * problem.rate,
            proven * whole + (good - proven) * untested - minutes[2] * problem.rate,
        ]
    )
    how = ways.argmax(axis=0)  # of equals the one that does least
    return ways.max(axis=0), minutes[how], how.astype(np.int8)


def part_worth(part: UnitPart, levels: tuple[Floats, Ints], terms: Priced) -> tuple[Floats, Floats]:
    """Expected net money of a good part sold tested, and untested, shape (state, case) each.

    Parameters
    ----------
    levels : shares of its price that a good one may fetch, and which of them each state has.
    """
    shares, of = levels
    whole, untested = (
        terms.part(part.price * share * shares, part.spread, part.share).reshape(len(shares), -1)
        for share in (1.0, part.untested)
    )
    if len(shares) == 1:  # the same in every state
        return whole, untested
    return whole[of], untested[of]
