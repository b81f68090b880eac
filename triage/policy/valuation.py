"""What a unit is worth at a price: the solved plan, its spread, and the go rule."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from triage.domain.settings import GoRule, Settings
from triage.policy.plan_inputs import PlanInputs
from triage.policy.plan_moves import plan_moves
from triage.policy.plan_play import Played, play
from triage.policy.repair_plan import PlanSpace, RepairPlan, plan_space, solve_plan
from triage.policy.terms import PurchaseTerms, WalkInTerms

# A loss is a margin below this: a rounding error is not a loss.
_HALF_A_CENT = 0.005
# A price is a whole number of steps; rounding takes off what floats leave behind.
_DIGITS = 9


@dataclass(frozen=True)
class Outcome:
    """A plan at one price.

    upfront : money gone before the first repair: price, postage, consumables,
        making a bad cell safe.
    entry_minutes : bench minutes of making it safe.
    state : where the plan stands: 0 at the start, else after some checks.
    """

    plan: RepairPlan
    played: Played
    upfront: float
    entry_minutes: float
    state: int = 0

    @property
    def expected_margin(self) -> float:
        """Exact expected margin, money."""
        return float(self.plan.policy.value[self.state]) - self.upfront

    @property
    def expected_minutes(self) -> float:
        """Expected bench minutes: exact from the start, else the paths' mean."""
        work = self.plan.expected_minutes if self.state == 0 else float(self.played.minutes.mean())
        return work + self.entry_minutes

    @property
    def margin_per_hour(self) -> float:
        """Expected margin per expected bench hour, money."""
        return self.expected_margin / max(self.expected_minutes / 60.0, 1e-9)

    @cached_property
    def margins(self) -> np.ndarray:
        """Margin on each simulated path, shape (path,)."""
        return self.played.margin - self.upfront

    def ready_days(self, settings: Settings) -> tuple[float, float]:
        """Likely and late (9 in 10) day it is ready: bench queue, slowest part, cure and soak."""
        days = self.played.days[self.played.finished]
        if not len(days):
            return 0.0, 0.0
        likely, late = np.quantile(days, [0.5, 0.9])
        fixed = settings.bench_queue_days + settings.cure_days
        return float(likely) + fixed, float(late) + fixed

    def dots(self, count: int = 20) -> np.ndarray:
        """`count` equally likely margins, lowest first: the mid-quantiles of the paths."""
        return np.quantile(self.margins, (np.arange(count) + 0.5) / count)

    @property
    def losses_in_20(self) -> int:
        """How many of the 20 dots lie below zero."""
        return int((self.dots() < -_HALF_A_CENT).sum())

    def meets(self, rule: GoRule) -> bool:
        """Whether the go rule holds."""
        return not self.misses(rule)

    def misses(self, rule: GoRule) -> tuple[str, ...]:
        """Which parts of the go rule fail: margin, margin_per_hour, losses_in_20."""
        kept = {
            "margin": self.expected_margin >= rule.margin - _HALF_A_CENT,
            "margin_per_hour": self.margin_per_hour >= rule.margin_per_hour - _HALF_A_CENT,
            "losses_in_20": self.losses_in_20 <= rule.losses_in_20,
        }
        return tuple(name for name, holds in kept.items() if not holds)


class Valuation:
    """One unit, laid out once and valued at any price or quote."""

    def __init__(self, inputs: PlanInputs, settings: Settings, space: PlanSpace | None = None):
        self.inputs, self.settings = inputs, settings
        self.space = space or plan_space(inputs.problem)
        self._shiftable: Outcome | None = None

    def bought_at(self, paid: float) -> Outcome:
        """Value of the unit bought at a price."""
        terms = self.purchase_terms(paid)
        if self.settings.tax.scheme == "second-hand-margin":
            # Tax depends on the price paid, so the best stopping rule does too.
            return self._outcome(terms)
        if self._shiftable is None:
            self._shiftable = self._outcome(self.purchase_terms(0.0))
        return replace(self._shiftable, upfront=terms.upfront + self._entry_cost)

    def quoted_at(self, quote: float, diagnostic_fee: float = 0.0) -> Outcome:
        """Value of an owner's device repaired at a fixed price, or returned for the diagnostic fee."""
        return self._outcome(self.walk_in_terms(quote, diagnostic_fee))

    def walk_in_terms(self, quote: float, diagnostic_fee: float = 0.0) -> WalkInTerms:
        """Money terms of a fixed price; what a lost function takes off a sale, it takes off the price."""
        by_grade = self.inputs.sale.mean(axis=1)
        share = np.minimum(1.0, by_grade / max(by_grade[0], 1e-9))
        return WalkInTerms(quote, share, self.settings.fees, self.settings.tax, diagnostic_fee)

    def with_inputs(self, inputs: PlanInputs) -> Valuation:
        """The same states under other money or minutes; chances must not have changed."""
        space = replace(self.space.space, moves=plan_moves(inputs.problem))
        return Valuation(inputs, self.settings, PlanSpace(inputs.problem, space))

    def after(self, outcome: Outcome, terms: PurchaseTerms | WalkInTerms, state: int) -> Outcome:
        """The same plan seen from a later state, such as after a check."""
        played = play(outcome.plan, terms, self.inputs.luck, state)
        return replace(outcome, played=played, state=state)

    @property
    def _entry_cost(self) -> float:
        return self.inputs.entry_minutes * self.inputs.problem.rate

    def purchase_terms(self, paid: float) -> PurchaseTerms:
        """Money terms of a purchase at a price."""
        settings = self.settings
        return PurchaseTerms(self.inputs.sale, self.inputs.parts_value, paid, settings.fees, settings.tax)

    def _outcome(self, terms: PurchaseTerms | WalkInTerms) -> Outcome:
        plan = solve_plan(self.space, terms)
        played = play(plan, terms, self.inputs.luck)
        return Outcome(plan, played, terms.upfront + self._entry_cost, self.inputs.entry_minutes)


def highest(holds: Callable[[float], bool], top: float, step: float = 0.01) -> float | None:
    """Largest multiple of `step` in [0, top] at which a falling rule still holds.

    Returns None where it does not hold even at 0. The rule is taken to hold
    below the point returned; bisection finds that point on the re-solved plan.
    """
    if not holds(0.0):
        return None
    low, high = 0, int(round(top / step))
    if holds(high * step):
        return round(high * step, _DIGITS)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if holds(middle * step) else (low, middle)
    return round(low * step, _DIGITS)


def lowest(holds: Callable[[float], bool], top: float, step: float = 0.01) -> float | None:
    """Smallest multiple of `step` in [0, top] at which a rising rule holds; None if never."""
    below = highest(lambda x: not holds(x), top, step)
    if below is None:
        return 0.0
    return None if below >= top - step / 2 else round(below + step, _DIGITS)


def highest_bid(valuation: Valuation, rule: GoRule) -> float | None:
    """Most to pay so that the go rule still holds, money; None when no price is low enough."""
    top = float(max(valuation.inputs.sale.mean(axis=1).max(), valuation.inputs.parts_value))
    return highest(lambda paid: valuation.bought_at(paid).meets(rule), top)


def lowest_quote(valuation: Valuation, rule: GoRule, diagnostic_fee: float = 0.0) -> float | None:
    """Least fixed price at which the go rule holds, money; None when none up to 3 times its worth.

    A fee never raises it. The plan of greatest margin may stop earlier for the
    fee and so lose a little more often, but the plan made without one would do
    no worse with it on any path.
    """
    top = 3.0 * valuation.inputs.working_price
    prices = [
        lowest(lambda quote, fee=fee: valuation.quoted_at(quote, fee).meets(rule), top)
        for fee in dict.fromkeys((0.0, diagnostic_fee))
    ]
    return min((price for price in prices if price is not None), default=None)
