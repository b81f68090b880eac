"""A device bought while the right to sell it is open: its outcomes mixed with those of a refusal.

With chance `clear` the plan takes its course. A question that can be settled early
is settled as soon as the device is bought, and a refusal costs the price (less what
the supplier pays back), the settling so far and the minutes of handing it over. A
question that only comes up late costs the work of the plan as well. The plan is
the one for a device whose right is clear: after an early refusal nothing is planned,
and a late one comes when the work is done.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np

from triage.arrays import Floats
from triage.domain.shop.settings import GoRule
from triage.policy.pricing.bisection import DIGITS, before_first_miss, highest
from triage.policy.pricing.outcome import ROUNDING, Outcome
from triage.policy.pricing.valuation import Valuation, course
from triage.policy.problem.open_right import OpenRight, Question, Topic

_CENT = 0.01


@dataclass(frozen=True)
class Ending:
    """One way that the right can turn out.

    spent : money beyond purchase and plan; less than nothing where more is paid back. minutes : the same.
    """

    chance: float
    spent: float
    minutes: float


@dataclass(frozen=True)
class Endings:
    """Every way that an open right can turn out for a device bought at a price.

    clear : all that it took is the settling. late : refused after the plan's work.
    early : refused as it is settled, one for each question that may refuse it.
    """

    clear: Ending
    late: Ending
    early: tuple[Ending, ...]

    @property
    def all(self) -> tuple[Ending, ...]:
        """Each of them; their chances sum to 1."""
        return (*self.early, self.late, self.clear)

    def expected(self, value: float, work: float) -> float:
        """Expected money before what was paid for the device.

        Parameters
        ----------
        value : of the plan where the right is clear, money. work : what the plan spends on the way.
        """
        lost = sum(one.chance * one.spent for one in self.all)
        return self.clear.chance * value - self.late.chance * work - lost


def endings(right: OpenRight, paid: float) -> Endings:
    """List how an open right can turn out: questions are settled in turn, up to the first refusal."""
    handed_over = right.hand_over * right.rate - right.price_back * paid
    early, chance, spent, minutes = [], 1.0, 0.0, 0.0
    for one in right.early:
        spent, minutes = spent + right.cost(one), minutes + one.minutes
        refused = chance * (1.0 - one.clear)
        early.append(Ending(refused, spent + handed_over, minutes + right.hand_over))
        chance *= one.clear
    late = Ending(chance * (1.0 - right.clear_late), spent + handed_over, minutes + right.hand_over)
    return Endings(Ending(chance * right.clear_late, spent, minutes), late, tuple(early))


@dataclass(frozen=True)
class OpenOutcome(Outcome):
    """A plan at one price where the right to sell is open; all figures are of the mixture.

    paid : price, of which the supplier pays a share back.
    """

    right: OpenRight = OpenRight()
    paid: float = 0.0

    @property
    def settled(self) -> Outcome:
        """The same plan and price if the right were clear, and nobody had to settle it."""
        return Outcome(self.plan, lambda: self.played, self.upfront, self.entry_minutes, self.state)

    @cached_property
    def endings(self) -> Endings:
        """How the right can turn out."""
        return endings(self.right, self.paid)

    @property
    def expected_margin(self) -> float:
        """Exact expected margin of the mixture, money."""
        return self.endings.expected(float(self.plan.policy.value[self.state]), self.work) - self.upfront

    @property
    def expected_minutes(self) -> float:
        """Expected bench minutes, with settling and handing over."""
        more = sum(one.chance * one.minutes for one in self.endings.all)
        return self.entry_minutes + self.right.clear_early * self.plan.expected_minutes + more

    @cached_property
    def margins(self) -> Floats:
        """Equally likely margins of the mixture, lowest first, shape (path,)."""
        return self.dots(len(self.played.margin))

    def dots(self, count: int = 20) -> Floats:
        """`count` equally likely margins, lowest first: the mid-quantiles of the mixture."""
        values, mass = self._mixed
        at = np.searchsorted(mass, (np.arange(count) + 0.5) / count * mass[-1])
        dots: Floats = values[np.minimum(at, len(values) - 1)]
        return dots

    @cached_property
    def _mixed(self) -> tuple[Floats, Floats]:
        """Every margin that can come about in rising order, and the chance of it or a lower one."""
        played, told = self.played, self.endings
        late, clear = told.late, told.clear
        kept = played.margin - clear.spent
        lost = -(played.labour + played.parts + played.extra) - late.spent
        values = np.concatenate([kept, lost, [-one.spent for one in told.early]]) - self.upfront
        paths = np.repeat([clear.chance / len(kept), late.chance / len(kept)], len(kept))
        order = np.argsort(values, kind="stable")
        return values[order], np.cumsum(np.append(paths, [one.chance for one in told.early])[order])

    @cached_property
    def work(self) -> float:
        """Expected money of the plan's work: bench time to its end, parts, accidental damage."""
        rate = self.plan.plan_space.problem.rate
        bought = sum(
            float(chance @ (np.asarray(move.costs) - rate * np.asarray(move.minutes)))
            for move, chance in self.plan.made_moves()
        )
        return self.plan.expected_minutes * rate + bought


def with_open_right(outcome: Outcome, right: OpenRight, paid: float) -> Outcome:
    """A purchase under an open right; the same outcome where the right is sure to be clear."""
    if right.clear >= 1.0:
        return outcome
    told = (outcome.plan, lambda: outcome.played, outcome.upfront, outcome.entry_minutes, outcome.state)
    return OpenOutcome(*told, right, paid)


def highest_open_bid(
    valuation: Valuation, clear_bid: float | None, right: OpenRight, rule: GoRule
) -> float | None:
    """Highest price at which the go rule holds for the mixture, money; None where none is low enough.

    Parameters
    ----------
    clear_bid : highest price for the device with its right clear: nobody pays more for a doubt.
    """
    if clear_bid is None:
        return None
    if not valuation.inputs.problem.parts:
        return highest(
            lambda paid: with_open_right(valuation.bought_at(paid), right, paid).meets(rule), clear_bid
        )

    @cache
    def outcome(cents: int) -> Outcome:
        paid = round(cents * _CENT, DIGITS)
        return with_open_right(valuation.bought_at(paid), right, paid)

    # Under one course every margin falls as the price rises, refused or not: see `_bid_by_pieces`.
    found = before_first_miss(
        lambda cents: outcome(cents).meets(rule),
        lambda cents: course(outcome(cents).plan),
        round(clear_bid / _CENT),
    )
    return None if found is None else round(found * _CENT, DIGITS)


@dataclass(frozen=True)
class SettlingFirst:
    """Whether to settle questions before paying.

    first : what to settle first; None where deciding at once is expected to bring as much.
    worth : by topic, expected money that settling it first, and deciding then, adds after its cost.
    gain : expected money that the best order of settling adds to deciding at once.
    """

    first: Topic | None
    worth: dict[Topic, float]
    gain: float


def settling_first(settled: Outcome, right: OpenRight, paid: float, rule: GoRule) -> SettlingFirst:
    """Value of settling before paying, by backward induction over the questions that can be.

    After each answer the device is bought if the go rule holds for what is still open, and declined
    if not; once refused it is declined.

    Parameters
    ----------
    settled : the plan at the price with the right clear.
    """

    def decided(left: OpenRight) -> float:
        outcome = with_open_right(settled, left, paid)
        return outcome.expected_margin if outcome.meets(rule) else 0.0

    def best(left: OpenRight) -> tuple[float, Topic | None]:
        found: tuple[float, Topic | None] = (decided(left), None)
        for one in before_paying(left):
            value = one.clear * best(left.without(one.topic))[0] - left.cost(one)
            if value > found[0] + ROUNDING:
                found = (value, one.topic)
        return found

    at_once, (value, first) = decided(right), best(right)
    worth = {
        one.topic: one.clear * decided(right.without(one.topic)) - right.cost(one) - at_once
        for one in before_paying(right)
    }
    return SettlingFirst(first, worth, value - at_once)


def before_paying(right: OpenRight) -> Iterator[Question]:
    """Questions that can be settled before paying."""
    return (one for one in right.questions if one.settled == "before-paying")
