"""The outcome of a plan at one price: margin, minutes, days, losses, and whether the go rule holds."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from triage.arrays import Floats
from triage.domain.shop.settings import GoRule, Settings
from triage.policy.solver.repair_plan import RepairPlan
from triage.policy.solver.simulate import SimulatedOutcomes

# A loss is a margin below this: a rounding error is not a loss.
HALF_A_CENT = 0.005
# What floats leave behind: the rule itself gives nothing away.
ROUNDING = 1e-6


@dataclass(frozen=True)
class Outcome:
    """A plan at one price.

    simulate : plays the plan; asked only when the spread is, the expected margin needs none of it.
    upfront : money gone before the first repair: price, postage, consumables,
        making a bad cell safe.
    entry_minutes : bench minutes of making it safe.
    state : where the plan stands: 0 at the start, else after some checks.
    """

    plan: RepairPlan
    simulate: Callable[[], SimulatedOutcomes]
    upfront: float
    entry_minutes: float
    state: int = 0

    @cached_property
    def played(self) -> SimulatedOutcomes:
        """What happened on each simulated path."""
        return self.simulate()

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
    def margins(self) -> Floats:
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

    def dots(self, count: int = 20) -> Floats:
        """`count` equally likely margins, lowest first: the mid-quantiles of the paths."""
        ordered = self._ordered_margins
        at = (np.arange(count) + 0.5) / count * (len(ordered) - 1)
        below = np.minimum(at.astype(int), max(len(ordered) - 2, 0))
        above = np.minimum(below + 1, len(ordered) - 1)
        dots: Floats = ordered[below] + (at - below) * (ordered[above] - ordered[below])
        return dots

    @cached_property
    def _ordered_margins(self) -> Floats:
        return np.sort(self.margins)

    @cached_property
    def losses_in_20(self) -> int:
        """How many of the 20 dots lie below zero."""
        return int((self.dots() < -HALF_A_CENT).sum())

    def meets(self, rule: GoRule) -> bool:
        """Whether the go rule holds."""
        return next(self._missed(rule), None) is None

    def misses(self, rule: GoRule) -> tuple[str, ...]:
        """Which parts of the go rule fail: margin, margin_per_hour, losses_in_20."""
        return tuple(self._missed(rule))

    def _missed(self, rule: GoRule) -> Iterator[str]:
        """The exact parts are tested first: the losses need a simulation."""
        if self.expected_margin < rule.margin - ROUNDING:
            yield "margin"
        if self.margin_per_hour < rule.margin_per_hour - ROUNDING:
            yield "margin_per_hour"
        if self.losses_in_20 > rule.losses_in_20:
            yield "losses_in_20"
