"""What a data job pays and what it takes: the plan of repairs that reach the data, then reading them."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property, partial

import numpy as np

from triage.arrays import Floats, Ints
from triage.domain.shop.settings import Settings
from triage.policy.pricing.bisection import lowest
from triage.policy.pricing.outcome import Outcome
from triage.policy.pricing.valuation import Valuation
from triage.policy.problem.build import PlanInputs, with_problem
from triage.policy.problem.luck import Luck
from triage.policy.problem.payoffs import Purse, WalkInTerms
from triage.policy.problem.subproblem import keep
from triage.policy.solver.repair_plan import PlanSpace

# Prices are searched up to this many bench hours over three times the resale value: what data are
# worth to their owner has nothing to do with what the device sells for.
_SEARCHED_HOURS = 40.0


def data_inputs(inputs: PlanInputs, blocking: set[str], settings: Settings, donor: bool) -> PlanInputs:
    """The same device where the owner wants the data and not the device.

    Only damage that stands between the bench and the data is worked on. Where
    the board runs, the data are read at once, and the device goes back as it
    is: it is put together where it was opened, never sealed, and no comeback is owed.

    Parameters
    ----------
    donor : whether a donor display is fitted to enter the code.
    """
    problem = inputs.problem
    named = {kind for repair in inputs.repairs for kind in repair.closes}
    # What no repair closes is an unexplained symptom, and stands in the way as well.
    items = [i for i, it in enumerate(problem.items) if it.key in blocking or it.key not in named]
    options = [o for o, option in enumerate(problem.options) if set(option.closes) & set(items)]
    latent_faults = [
        m for m in range(len(problem.latent_faults)) if any(problem.items[i].latent_fault == m for i in items)
    ]
    minutes = settings.minutes
    reading = minutes.save_data + (settings.data.donor_minutes if donor else 0.0)
    reduced = keep(problem, items, options, latent_faults)
    reduced = replace(
        reduced,
        items=tuple(replace(item, required=True) for item in reduced.items),
        options=tuple(replace(option, comeback=0.0) for option in reduced.options),
        finish_minutes=(reading, reading + minutes.reassemble),
        stop_minutes=(0.0, minutes.reassemble),
    )
    return without_comebacks(with_problem(inputs, reduced, options))


def without_comebacks(inputs: PlanInputs) -> PlanInputs:
    """The same simulated jobs with nothing owed after the end."""
    luck = inputs.luck
    none = (replace(one, comeback=np.zeros_like(one.comeback)) for one in luck.options)
    return replace(inputs, luck=Luck(luck.scenario, tuple(none), luck.seed))


@dataclass(frozen=True)
class DataTerms(WalkInTerms):
    """A data job at a price, with what an owner pays by outcome.

    quote : price for all of the data. diagnostic_fee : the fee for trying, a part of the price.
    part_share : share of the price due for part of the data.
    outcomes : chance of (all, part, none) once the board runs.
    of_path : ndarray of int, shape (path,), the outcome on each simulated path that gets there.
    """

    part_share: float = 0.0
    outcomes: tuple[float, float, float] = (1.0, 0.0, 0.0)
    of_path: Ints = field(default_factory=lambda: np.zeros(0, dtype=int))

    @property
    def paid(self) -> Floats:
        """What the owner pays for all, part and none of the data, tax included, money."""
        due = self.quote * np.array([1.0, self.part_share, 0.0])
        return np.maximum(due, self.diagnostic_fee)

    def finish_purse(self, grade: Ints, path: Ints) -> Purse:
        """Money lines of each path that reads the data."""
        return self._paid(self.paid[self.of_path[path]])

    def finish(self, grade: Ints) -> Floats:
        """Expected net money once the board runs, at each grade given: whatever it is, it pays for data."""
        net: Floats = np.asarray(self._paid(self.paid).net) @ np.array(self.outcomes)
        return np.full(np.shape(grade), net)


@dataclass(frozen=True)
class KeptOutcome(Outcome):
    """A promised plan carried out at other terms than it was made for; margin : its exact expected margin."""

    margin: float = 0.0

    @property
    def expected_margin(self) -> float:
        """Exact expected margin, money."""
        return self.margin


class DataValuation(Valuation):
    """A device whose data are wanted, laid out once and valued at any price and fee.

    A fee for trying is owed for trying: the work is that of the least price that meets the rule's
    margins without a fee, whatever is asked. A fee then never pays for giving up sooner.
    """

    def __init__(
        self,
        inputs: PlanInputs,
        settings: Settings,
        outcomes: tuple[float, float, float],
        space: PlanSpace | None = None,
    ):
        super().__init__(inputs, settings, space)
        self.outcomes = outcomes

    def walk_in_terms(self, quote: float, diagnostic_fee: float = 0.0) -> DataTerms:
        """Money terms of a price and a fee for trying."""
        settings = self.settings
        return DataTerms(
            quote, np.ones(3), settings.fees, settings.tax, diagnostic_fee,
            settings.data.part_price_share, self.outcomes, self._of_path,
        )  # fmt: skip

    @property
    def highest_price(self) -> float:
        """Up to where a price is searched, money."""
        return 3.0 * self.inputs.working_price + _SEARCHED_HOURS * self.settings.bench_rate

    @cached_property
    def planned_price(self) -> float | None:
        """Price without a fee that the promised work is planned for; None where none meets the margins."""
        any_risk = replace(self.settings.go_rule, losses_in_20=20)
        return lowest(lambda price: self.quoted_at(price).meets(any_risk), self.highest_price)

    @cached_property
    def promised(self) -> Outcome:
        """The work that is promised, at the price that it is planned for."""
        return self.quoted_at(self.highest_price if self.planned_price is None else self.planned_price)

    def kept_at(self, price: float, fee: float) -> KeptOutcome:
        """The promised work at a price and a fee for trying."""
        promised, terms = self.promised, self.walk_in_terms(price, fee)
        planned = self.walk_in_terms(self.highest_price if self.planned_price is None else self.planned_price)
        read = promised.plan.chance_finished
        none, whole = np.zeros(1), np.zeros(1, dtype=int)
        change = read * (terms.finish(whole) - planned.finish(whole))
        change += (1.0 - read) * (terms.stop(none, none) - planned.stop(none, none))
        return KeptOutcome(
            promised.plan, partial(self._play_walk_in, promised.plan, terms), promised.upfront,
            promised.entry_minutes, margin=promised.expected_margin + float(change[0]),
        )  # fmt: skip

    def least_price(self, fee: float) -> float | None:
        """Least price at which the promised work meets the go rule with a fee for trying, money."""
        if self.planned_price is None:
            return None
        rule = self.settings.go_rule
        least = lowest(lambda price: self.kept_at(price, fee).meets(rule), self.highest_price)
        return None if least is None else max(least, fee)

    def least_fee(self) -> float | None:
        """Least whole fee for trying with which some price meets the rule; None where none does."""
        if self.planned_price is None:
            return None
        top, rule = self.highest_price, self.settings.go_rule
        return lowest(lambda fee: self.kept_at(top, fee).meets(rule), top, step=1.0)

    def covers_cost(self, fee: float) -> float | None:
        """Price under which the promised work costs more than it brings; None where no price covers it."""
        return lowest(lambda price: self.kept_at(price, fee).expected_margin >= 0.0, self.highest_price)

    @cached_property
    def _of_path(self) -> Ints:
        """Outcome on each path: every share of them exactly as often as its chance, in random order."""
        paths = len(self.inputs.luck.scenario)
        shuffled = np.random.default_rng([self.inputs.luck.seed, 1]).permutation(paths)
        drawn: Ints = np.searchsorted(np.cumsum(self.outcomes[:2]), (shuffled + 0.5) / paths, side="right")
        return drawn
