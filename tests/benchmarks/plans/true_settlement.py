"""What the plays of one unit share, and the value of each ended play, at the shop's own rates.

Each departure of the invented shop's true world from the plan's assumptions has a name in
`DEPARTURES`. Any of them can be played as the plan assumes it instead.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from synthetic_cases.bench import Bench
from synthetic_cases.bench_work import JobRecord
from tests.benchmarks.plans.invented_world import World
from triage.policy.problem.options import Worth
from triage.policy.problem.payoffs import PurchaseTerms
from triage.policy.solver.parts.stripping import LEFT, TESTED
from triage.policy.solver.repair_plan import FINISH
from triage.policy.solver.state_view import first_check, first_option
from triage.workflows.answers.pricing import PricedUnit

DEPARTURES = {
    "chances": "chances of the repairs, and that a second try meets the first one's difficulty",
    "hidden": "hidden faults that the plan reckons with: how often they are there, how severe",
    "surprises": "hidden faults that nothing seen points to",
    "breakages": "opening and repairing break something, and it has to be dealt with",
    "late-finds": "the final test finds one thing more",
    "given-up": "a repair looks hopeless and is given up unattempted",
    "no-part": "a part cannot be had",
    "dead-parts": "parts dead on arrival: longer, sometimes paid twice",
    "minutes": "bench minutes: medians, technician's speed, sticking, giving up",
    "price-book": "what the parts are listed at",
    "parts-ratio": "what is paid for parts over what they are listed at",
    "sale": "sale price of a finished unit over its working price, by grade",
    "parts-value": "which parts of a stripped unit are good and what each fetches, and that a failed repair "
    "leaves them alone",
    "waiting": "days until parts are here and until it is sold",
    "comebacks": "returns within the warranty",
}


@dataclass(frozen=True)
class TruePlays:
    """Every play of one wreck, shape (play,): realised money and minutes."""

    margin: np.ndarray
    minutes: np.ndarray
    finished: np.ndarray


class PlayedOut(Protocol):
    """What settling needs from one play that has ended."""

    state: int
    finished: bool
    grade: int
    minutes: float
    spent: float
    waited: float
    planned_comeback: float
    rework: float

    def record(self) -> JobRecord:
        """The play as the invented shop would record it."""


class Rules:
    """What all plays of one unit share: the policy, the prices, the truth and the assumptions."""

    def __init__(self, priced: PricedUnit, world: World, as_planned: frozenset[str]):
        self.priced, self.world = priced, world
        self.true = {name: name not in as_planned for name in DEPARTURES}
        pricing, outcome = priced.pricing, priced.outcome
        self.inputs, self.settings, self.policy = pricing.inputs, pricing.shop.settings, outcome.plan.policy
        self.problem, space = pricing.inputs.problem, outcome.plan.plan_space.space
        self.states, self.moves = space.states, space.moves
        self.finishes = outcome.plan.ends_in(FINISH)
        self.check, self.option = first_check(self.problem), first_option(self.problem)
        self.battery = self.option + len(self.problem.options)  # column of the battery, where there is one
        view = outcome.plan.plan_space.view
        self.recovered = view.summed([option.recovered for option in self.problem.options])
        self.wait_days = view.wait_days
        self.stopped = outcome.plan.stopping
        self.stopping = self.stopped.money[:, 0]
        self.finishing = priced.terms.finish(np.arange(3))
        books = pricing.shop.books_for(pricing.unit)
        self.beliefs = [books.beliefs.repair_belief(repair.slug) for repair in self.inputs.repairs]
        self.worth = Worth(self.inputs.working_price, books, True)
        truth = world.truth
        if not self.true["dead-parts"]:
            families = {slug: replace(family, dead_part=0.0) for slug, family in truth.families.items()}
            truth = replace(truth, families=families)
        self.bench = Bench(truth, world.catalogue)
        self.kinds = world.catalogue.kinds

    def strip_minutes(self, state: int, reached: int) -> float:
        """Minutes of the parts that the plan takes out in a state, and of opening further for them."""
        taken = self.stopped.taken[:, state, 0]
        own = [
            (part.access, part.minutes + part.test_minutes * (how == TESTED))
            for part, how in zip(self.problem.parts, taken, strict=False)
            if how != LEFT
        ]
        depth = max((access for access, _ in own), default=0)
        return sum(minutes for _, minutes in own) + sum(self.problem.access_minutes[reached:depth])

    def settle(self, plays: list[PlayedOut]) -> TruePlays:
        """Pay out every ending: sale or strip, fees, tax, waiting, comebacks, labour."""
        settings, world, inputs = self.settings, self.world, self.inputs
        finished = np.array([play.finished for play in plays])
        state = np.array([play.state for play in plays])
        minutes = np.array([play.minutes for play in plays])
        sales = world.sales([play.record() for play in plays], settings.warranty_days)

        known = 1.0 - settings.value_loss_per_month
        days = np.full(world.plays, settings.days_to_sell)
        waited = self.wait_days[state]
        if self.true["waiting"]:
            days = (sales.sold_date - world.wreck.intake.closed[world.wreck.row]).astype(int)
            waited = np.array([play.waited for play in plays])
        grade = np.array([play.grade for play in plays])
        price = sales.sold * known ** (days / 30.0)
        if not self.true["sale"]:
            price = inputs.sale[grade, world.path] * known ** ((days - settings.days_to_sell) / 30.0)
        paid = self.priced.terms.paid
        terms = PurchaseTerms(np.tile(price, (3, 1)), 0.0, paid, settings.fees, settings.tax)
        done = terms.finish_purse(grade, np.arange(world.plays))
        stopped = self.stopped.money[state, 0] + self.stopped.minutes[state, 0] * self.problem.rate
        if self.true["parts-value"]:
            stopped = self._stripped([play.record() for play in plays], state, known ** (days / 30.0), terms)
        net = np.where(finished, done.net, stopped)
        comeback = np.array([play.planned_comeback for play in plays])
        if self.true["comebacks"]:
            back = np.isin(sales.comeback_kind, list(world.truth.sales.comeback_kinds))
            comeback = back * self.worth.comeback(np.array([play.rework for play in plays]))
        lost = np.where(finished, comeback + self.problem.daily_loss * waited, 0.0)
        spent = np.array([play.spent for play in plays]) + minutes * self.problem.rate
        margin = net - lost - spent - self.priced.outcome.upfront
        return TruePlays(margin, minutes + self.priced.outcome.entry_minutes, finished)

    def _stripped(
        self, records: list[JobRecord], state: np.ndarray, kept: np.ndarray, terms: PurchaseTerms
    ) -> np.ndarray:
        """Net money of the plan's set of parts as they really are, shape (play,).

        kept : ndarray, shape (play,), share of its value that a part still has when it is sold.
        """
        truth, fates = self.world.truth, self.world.parts(records)
        net = terms.part_purse(self.recovered[state], 0.0).net - terms.fees.disposal
        places = {slug: place for place, slug in enumerate(truth.parts)}
        for number, part in enumerate(self.problem.parts):
            how, place = self.stopped.taken[number, state, 0], places[part.key]
            proven = (how == TESTED) & (fates.starts | part.donor)
            share = np.where(proven, 1.0, truth.stripping.untested) * fates.good[:, place]
            fetched = np.where(how == LEFT, 0.0, share * fates.price[:, place] * kept)
            net = net + terms.part_purse(fetched, part.share).net
        return net
