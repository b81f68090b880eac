"""Work a bought device the way the invented shop's own bench does, with no plan of the product.

The bench (`synthetic_cases.bench_work`) meets the damage and the luck of `invented_world` and sells
what it made. Fees, tax, bench rate, waiting and comebacks are settled by the rules of
`true_settlement`, as for a plan of the product. The settings' minutes for opening, closing, testing
and stripping are charged too (a stopped device is stripped of the parts that are the best set as it was
taken in), and so are those for a safe battery: a suspect one is looked at on
opening, a bad one made safe, a good one taken out before rework heat.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from synthetic_cases.bench_work import JobRecord, Line, play
from tests.benchmarks.plans.invented_world import World
from tests.benchmarks.plans.true_battery import TrueBattery
from tests.benchmarks.plans.true_settlement import Rules, TruePlays
from triage.domain.catalogue_entries import ACCESS_LEVELS
from triage.policy.solver.state_space import MoveKind
from triage.workflows.answers.pricing import PricedUnit


@dataclass(frozen=True)
class _Worked:
    """One ended job, as settling needs it."""

    done: JobRecord
    minutes: float
    spent: float
    waited: float
    rework: float
    state: int = 0
    planned_comeback: float = 0.0

    @property
    def finished(self) -> bool:
        return self.done.finished

    @property
    def grade(self) -> int:
        return min(self.done.lost, 2)

    def record(self) -> JobRecord:
        return self.done


def work_as_usual(priced: PricedUnit, world: World) -> TruePlays:
    """Work a device bought at its asking price; no plan is followed, only the price is taken from it."""
    rules = Rules(priced, world, frozenset())
    return rules.settle([_worked(rules, number) for number in range(world.plays)])


def _worked(rules: Rules, number: int) -> _Worked:
    world = rules.world
    unit = world.wreck.person._replace(job_effect=float(world.job_effect[number]))
    damage = [
        found
        for origin, some in world.damage[number].items()
        for found in some
        if origin != "hidden" or world.there[found.kind][number]
    ]
    done = play(rules.bench, unit, damage)
    tries = _tries(done)
    bad_cell = any(
        rules.kinds[found.kind].battery == "hazard"
        for found in damage
        if found.origin in ("intake", "hidden")
    )
    made = [(lines[0].minutes, lines[0].parts_cost) for lines in tries]
    minutes = sum(spent for spent, _ in made) + _shared_minutes(rules, done, tries, bad_cell)
    luck = {
        repair.slug: each
        for repair, each in zip(rules.inputs.repairs, rules.inputs.luck.options, strict=True)
    }
    days = [luck[lines[0].method].days for lines in tries if lines[0].method in luck]
    path = int(world.path[number])
    return _Worked(
        done,
        minutes,
        sum(parts for _, parts in made),
        sum(float(each[path]) for each in days if each is not None),
        _rework(rules, tries),
    )


def _tries(done: JobRecord) -> list[list[Line]]:
    """Lines of each attempt, the leading one, which has the figures, first."""
    tries: list[list[Line]] = []
    for line in done.lines:
        if line.outcome == "not-attempted":
            continue
        if np.isfinite(line.minutes):
            tries.append([])
        tries[-1].append(line)
    return tries


def _shared_minutes(rules: Rules, done: JobRecord, tries: list[list[Line]], bad_cell: bool) -> float:
    """Minutes of opening, of a safe battery, and of closing or stripping."""
    problem, battery = rules.problem, TrueBattery(rules.settings, rules.problem.safety.battery)
    repairs = [rules.world.catalogue.repairs[lines[0].method] for lines in tries]
    minutes, reached = 0.0, 0
    if done.opened:
        reached = max([1, *(ACCESS_LEVELS.index(repair.access) for repair in repairs)])
        minutes += sum(problem.access_minutes[:reached])
        if battery.start == "suspect":
            minutes += battery.act(MoveKind.BATTERY_LOOK, True, False)
        if bad_cell:
            minutes += battery.make_safe()
        elif any("heat" in repair.acts for repair in repairs):
            minutes += battery.act(MoveKind.TAKE_OUT, True, False)
    if done.finished:
        return minutes + problem.finish_minutes[int(done.opened)]
    if problem.parts and not done.opened and not rules.stopped.taken[:, 0].any():
        return minutes + problem.stop_minutes[1]
    minutes += rules.strip_minutes(0, reached)
    return minutes + problem.stop_minutes[1] + battery.before_strip(bad_cell)


def _rework(rules: Rules, tries: list[list[Line]]) -> float:
    """Expected cost of doing again a repair that comes back, by the hazards of those that worked."""
    families = rules.world.truth.families
    weight, total = 0.0, 0.0
    for lines in tries:
        if lines[0].outcome == "fixed":
            hazard = sum(
                families[slug].comeback[0] for slug in {rules.kinds[line.kind].family for line in lines}
            )
            weight += hazard
            total += hazard * (lines[0].minutes * rules.problem.rate + lines[0].parts_cost)
    return total / weight if weight else 0.0
