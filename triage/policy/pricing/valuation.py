"""The value of a device at a price: the solved plan, its spread, and the go rule."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache, cached_property, partial

import numpy as np

from triage.arrays import Floats, Ints
from triage.domain.shop.settings import GoRule, Settings
from triage.policy.pricing.bisection import DIGITS, before_first_miss, lowest
from triage.policy.pricing.outcome import HALF_A_CENT, ROUNDING, Outcome
from triage.policy.pricing.salvage import parts_terms, strip_bid
from triage.policy.problem.build import PlanInputs
from triage.policy.problem.payoffs import Amount, PurchaseTerms, WalkInTerms, tax_on
from triage.policy.solver.prune import narrowed
from triage.policy.solver.repair_plan import (
    STOP,
    PlanSpace,
    PricedPlans,
    RepairPlan,
    plan_space,
    solve_plan,
    solve_plans,
)
from triage.policy.solver.simulate import Paths, SimulatedOutcomes, follow, play, settle

# Prices solved at once for a plan of few states, where more of them cost little, and for others.
_FEW_STATES, _MANY_PRICES, _SOME_PRICES = 1000, 31, 3


class Valuation:
    """One unit, laid out once and valued at any price or quote."""

    def __init__(self, inputs: PlanInputs, settings: Settings, space: PlanSpace | None = None):
        self.inputs, self.settings = inputs, settings
        self.space = space or plan_space(inputs.problem)
        self._terms = PurchaseTerms(
            inputs.sale, inputs.parts_value, 0.0, settings.fees, settings.tax, inputs.shared_sale
        )
        self._played: dict[bytes, SimulatedOutcomes] = {}
        self._followed: dict[bytes, Paths] = {}
        self._asked: float | None = None
        self._planned: dict[float, RepairPlan] = {}

    @cached_property
    def bought(self) -> PlanSpace:
        """The states that matter to somebody who buys it, whatever is paid."""
        if self.inputs.problem.parts or len(self.space.space.states) <= _FEW_STATES:
            return self.space  # what is left out is proved for parts valued together alone
        terms = self.purchase_terms(parts_terms(self.inputs, self.settings).paid)
        return narrowed(self.space, solve_plans(self.space, terms).policies)

    def bought_at(self, paid: float) -> Outcome:
        """Value of the unit bought at a price."""
        terms = self.purchase_terms(paid)
        space = self.bought if "bought" in vars(self) else self.space  # one price alone does not pay for it
        planned = self._planned.pop(paid) if paid in self._planned else solve_plan(space, terms)
        return self.outcome_of(planned, paid)

    def repaired_at(self, paid: float) -> Outcome | None:
        """Value where it is repaired until it works or a repair it needs fails; None where it cannot be."""
        plan = solve_plan(self.space, self.purchase_terms(paid), to_the_end=True)
        return self.outcome_of(plan, paid) if np.isfinite(plan.value) and plan.act(0) is not STOP else None

    def outcome_of(self, plan: RepairPlan, paid: float) -> Outcome:
        """Value of the unit bought at a price, under a plan made at that price."""
        terms = self.purchase_terms(paid)
        return self._outcome(plan, partial(self._play, plan, terms), terms)

    def will_be_asked(self, paid: float) -> None:
        """Plan for a price along with the next others, which costs little."""
        self._asked = paid

    def bids(self, prices: np.ndarray) -> Bids:
        """The unit bought at each of several prices, shape (price,)."""
        prices, asked, self._asked = np.asarray(prices, dtype=float), self._asked, None
        if asked is None:
            terms = self.purchase_terms(prices)
            return Bids(self, terms, solve_plans(self.bought, terms))
        plans = solve_plans(self.bought, self.purchase_terms(np.append(prices, asked)))
        self._planned = {asked: plans.plan(len(prices))}
        return Bids(self, self.purchase_terms(prices), plans.first(len(prices)))

    def quoted_at(self, quote: float, diagnostic_fee: float = 0.0) -> Outcome:
        """Value of an owner's device repaired at a fixed price, or returned for the diagnostic fee."""
        terms = self.walk_in_terms(quote, diagnostic_fee)
        plan = solve_plan(self.space, terms)
        return self._outcome(plan, partial(self._play_walk_in, plan, terms), terms)

    @property
    def highest_price(self) -> float:
        """Up to where the price of a repair is searched, money: three times what the device is worth."""
        return 3.0 * self.inputs.working_price

    def walk_in_terms(self, quote: float, diagnostic_fee: float = 0.0) -> WalkInTerms:
        """Money terms of a fixed price; what a lost function takes off a sale, it takes off the price."""
        by_grade = self.inputs.sale.mean(axis=1)
        share = np.minimum(1.0, by_grade / max(by_grade[0], 1e-9))
        return WalkInTerms(quote, share, self.settings.fees, self.settings.tax, diagnostic_fee)

    def with_inputs(self, inputs: PlanInputs) -> Valuation:
        """The same states under other money or minutes; chances must not have changed."""
        return Valuation(inputs, self.settings, self.space.under(inputs.problem))

    def after(self, outcome: Outcome, terms: PurchaseTerms[float] | WalkInTerms, state: int) -> Outcome:
        """The same plan seen from a later state, such as after a check."""
        simulate = partial(play, outcome.plan, terms, self.inputs.luck, state)
        return replace(outcome, simulate=simulate, state=state)

    @property
    def _entry_cost(self) -> float:
        return self.inputs.entry_minutes * self.inputs.problem.rate

    def purchase_terms(self, paid: Amount) -> PurchaseTerms[Amount]:
        """Money terms of a purchase at a price."""
        return self._terms.at(paid)

    def _play(self, plan: RepairPlan, terms: PurchaseTerms[float]) -> SimulatedOutcomes:
        """The plan on every path; what it does there does not depend on the price, only its tax does."""
        acts = _acts(plan)
        if self.inputs.problem.parts:
            return self._settled(plan, terms, acts)
        if acts not in self._played:
            self._played[acts] = play(plan, terms, self.inputs.luck)
        played = self._played[acts]
        tax = tax_on(terms.tax, played.price, terms.paid)
        return replace(played, tax=tax, margin=played.margin + played.tax - tax)

    def _play_walk_in(self, plan: RepairPlan, terms: WalkInTerms) -> SimulatedOutcomes:
        """The plan on every path; only what is paid in the end depends on the price."""
        return self._settled(plan, terms, _acts(plan))

    def _settled(
        self, plan: RepairPlan, terms: PurchaseTerms[float] | WalkInTerms, acts: bytes
    ) -> SimulatedOutcomes:
        if acts not in self._followed:
            self._followed[acts] = follow(plan, self.inputs.luck)
        return settle(plan, terms, self.inputs.luck, self._followed[acts])

    def _outcome(
        self,
        plan: RepairPlan,
        simulate: Callable[[], SimulatedOutcomes],
        terms: PurchaseTerms[float] | WalkInTerms,
    ) -> Outcome:
        return Outcome(plan, simulate, terms.upfront + self._entry_cost, self.inputs.entry_minutes)


def _acts(plan: RepairPlan) -> bytes:
    """What the plan does in every state that it can reach."""
    return np.where(plan.reach > 0, plan.policy.choice, -1).tobytes()


@dataclass(frozen=True)
class Bids:
    """One unit bought at each of several prices; the arrays are (price,) long."""

    valuation: Valuation
    terms: PurchaseTerms[Floats]
    plans: PricedPlans

    @cached_property
    def margins(self) -> Floats:
        """Exact expected margin, money."""
        return self.plans.value - self.terms.upfront - self.valuation._entry_cost

    def outcome(self, case: int) -> Outcome:
        """The unit at one of the prices."""
        terms, plan = self.terms.at(float(self.terms.paid[case])), self.plans.plan(case)
        return self.valuation._outcome(plan, partial(self.valuation._play, plan, terms), terms)

    def first_miss(self, rule: GoRule) -> int:
        """The first price at which a monotone rule does not hold; one past the last where it always holds."""
        hourly = self.margins / self._hours
        held = (self.margins >= rule.margin - ROUNDING) & (hourly >= rule.margin_per_hour - ROUNDING)
        low, high = 0, len(held) if held.all() else int(held.argmin())
        middle = high - 1  # mostly all of them hold
        while low < high:
            low, high = (middle + 1, high) if self._losses_allowed(middle, rule) else (low, middle)
            middle = (low + high) // 2
        return low

    def slack(self, rule: GoRule) -> Floats:
        """Expected margin over what the rule wants of it, money, shape (price,)."""
        wanted: Floats = np.maximum(rule.margin, rule.margin_per_hour * self._hours)
        return self.margins + ROUNDING - wanted

    @cached_property
    def _hours(self) -> Floats:
        minutes = self.plans.minutes + self.valuation.inputs.entry_minutes
        return np.maximum(minutes / 60.0, 1e-9)

    def strips(self, case: int) -> bool:
        """Whether it is stripped before anything else is done."""
        return self.plans.stops_at_once(case)

    def _losses_allowed(self, case: int, rule: GoRule) -> bool:
        if self.strips(case):
            return rule.losses_in_20 >= 20 or bool(self.margins[case] >= -HALF_A_CENT)
        return self.outcome(case).losses_in_20 <= rule.losses_in_20


def top_bid(inputs: PlanInputs) -> float:
    """Upper bound for any price to pay, money: the best possible sale."""
    return float(max(inputs.sale.mean(axis=1).max(), inputs.parts_value))


def highest_bid(valuation: Valuation, rule: GoRule, step: float = 0.01) -> float | None:
    """Highest price at which the go rule holds, money; None when no price is low enough.

    The rule is assumed to be monotone in the price. Several prices are
    solved at once, over the whole range and then between the last that holds
    and the first that does not. With parts valued one by one it need not be, and
    the price is the greatest below which the rule never fails.
    """
    top = top_bid(valuation.inputs)
    if valuation.inputs.problem.parts:
        return _bid_by_pieces(valuation, rule, int(round(top / step)), step)
    small = len(valuation.bought.space.states) <= _FEW_STATES
    low, high = -1, int(round(top / step)) + 1  # holds, does not: as far as is known
    points = _between(low, high, _MANY_PRICES if small else 2)
    followed = False  # whether the last prices were where the margin pointed
    while len(points):
        bids = valuation.bids(points * step)
        miss = bids.first_miss(rule)
        if low < 0 and miss == 0:
            return None
        turns = 0 < miss < len(points)
        if turns and bids.strips(miss - 1) and bids.strips(miss):
            # Then stripping is best at every price between, see `stripping.parts_terms`.
            holds, fails = points[miss - 1 : miss + 1] * step
            return strip_bid(valuation.inputs, valuation.settings, rule, holds, fails, step)
        wide = high - low
        low, high = points[miss - 1] if miss else low, points[miss] if miss < len(points) else high
        followed = turns and not small and not (followed and high - low > wide / 4)
        if not followed:
            points = _between(low, high, _MANY_PRICES if small else _SOME_PRICES)
        else:
            points = _around(low, high, bids.slack(rule)[miss - 1 : miss + 1])
    return round(low * step, DIGITS)


def _bid_by_pieces(valuation: Valuation, rule: GoRule, last: int, step: float) -> float | None:
    """Greatest price below which the rule never fails, in steps up to `last`.

    The expected margin only falls as the price rises, whatever the plan: no plan's tax falls by as much
    as the price paid rises. Under one plan and one set of parts so does each path's margin, and minutes
    stand; so the rule only falls there, and is bisected there alone.
    """
    outcome = cache(lambda number: valuation.bought_at(round(number * step, DIGITS)))
    earns = _earns_up_to(valuation, rule, last, step)

    found = None
    if earns >= 0:
        found = before_first_miss(lambda n: outcome(n).meets(rule), lambda n: course(outcome(n).plan), earns)
    return None if found is None else round(found * step, DIGITS)


def course(plan: RepairPlan) -> bytes:
    """What a plan does, and the parts that it takes out, wherever it leads."""
    sets = plan.stopping.taken[:, plan.ends_in(STOP) & (plan.reach > 0), 0]
    return _acts(plan) + sets.tobytes()


def _earns_up_to(valuation: Valuation, rule: GoRule, last: int, step: float) -> int:
    """The last step up to `last` whose expected margin is as wanted; -1 where none is."""
    few = len(valuation.space.space.states) <= _FEW_STATES
    low, high = -1, last + 1
    while len(points := _between(low, high, _MANY_PRICES if few else _SOME_PRICES)):
        earns = valuation.bids(np.round(points * step, DIGITS)).margins >= rule.margin - ROUNDING
        count = int(earns.sum())  # it only falls
        low, high = points[count - 1] if count else low, points[count] if count < len(points) else high
    return int(low)


def _around(low: int, high: int, slack: Floats) -> Ints:
    """Two whole numbers between two, either side of where a line through the slack at both crosses zero."""
    if not slack[0] >= 0.0 > slack[1]:  # it is the losses that turn: they follow no line
        return _between(low, high, _SOME_PRICES)
    crossing = low + (high - low) * slack[0] / (slack[0] - slack[1])
    wide = max(1.0, (high - low) / 60.0)
    around = np.array([np.floor(crossing - wide), np.ceil(crossing + wide)]).astype(int)
    return np.unique(around.clip(low + 1, high - 1)) if high - low > 1 else around[:0]


def _between(low: int, high: int, count: int) -> Ints:
    """At most `count` whole numbers between two, evenly spaced, the least and the greatest among them."""
    return np.unique(np.linspace(low + 1, high - 1, min(count, high - low - 1)).round().astype(int))


def lowest_quote(valuation: Valuation, rule: GoRule, diagnostic_fee: float = 0.0) -> float | None:
    """Least fixed price at which the go rule holds, money; None when none up to `highest_price` does.

    A fee never raises it. The plan of greatest margin may stop earlier for the
    fee and so lose a little more often, but the plan made without one would do
    no worse with it on any path.
    """

    def meets(fee: float, quote: float) -> bool:
        return valuation.quoted_at(quote, fee).meets(rule)

    top = valuation.highest_price
    prices = [lowest(partial(meets, fee), top) for fee in dict.fromkeys((0.0, diagnostic_fee))]
    return min((price for price in prices if price is not None), default=None)
