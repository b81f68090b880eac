"""Follow a solved plan through the invented shop's true world.

Written without `triage.policy.solver.simulate`: the policy gives the act for the state
reached, and the true world gives its outcome.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from synthetic_cases.bench import Unit
from synthetic_cases.bench_work import JobRecord, Line
from synthetic_cases.damage import Damage, breaks_after
from tests.benchmarks.plans.invented_world import World
from tests.benchmarks.plans.true_battery import TrueBattery
from tests.benchmarks.plans.true_settlement import Rules, TruePlays
from triage.domain.catalogue_entries import ACCESS_LEVELS
from triage.policy.solver.state_view import FIRST_LATENT_FAULT, rivals
from triage.workflows.answers.pricing import PricedUnit


def play_plan(priced: PricedUnit, world: World, as_planned: frozenset[str] = frozenset()) -> TruePlays:
    """Play a unit bought at its asking price.

    Parameters
    ----------
    as_planned : departures that are played as the plan assumes them.
    """
    rules = Rules(priced, world, as_planned)
    plays = [_Play(rules, number).run() for number in range(world.plays)]
    return rules.settle(plays)


@dataclass
class _Play:
    """One play: the state of the plan, and the truth.

    open : damage known and not closed. failed : kinds on which a method has failed.
    unplanned : open damage that a later repair of the plan will also close.
    left : damage unknown to the plan that is left as it is.
    """

    rules: Rules
    number: int
    state: int = 0
    minutes: float = 0.0
    spent: float = 0.0
    waited: float = 0.0
    planned_comeback: float = 0.0
    reached: int = 0
    attempts: int = 0
    ended: str = ""
    open: dict[str, Damage] = field(default_factory=dict)
    unplanned: list[Damage] = field(default_factory=list)
    failed: set[str] = field(default_factory=set)
    left: set[str] = field(default_factory=set)
    used: set[str] = field(default_factory=set)
    lines: dict[str, Line] = field(default_factory=dict)
    hazards: list[tuple[float, float]] = field(default_factory=list)

    def run(self) -> _Play:
        """Follow the plan to its end."""
        rules, world = self.rules, self.rules.world
        self.unit: Unit = world.wreck.person._replace(job_effect=float(world.job_effect[self.number]))
        self.path = int(world.path[self.number])
        self.scenario = int(rules.inputs.luck.scenario[self.path])
        self.damage = world.damage[self.number]
        self.hidden = {found.kind: found for found in self.damage.get("hidden", ())}
        self.branch = [self._branch(index) for index in range(len(rules.problem.latent_faults))]
        self.battery = TrueBattery(rules.settings, rules.problem.safety.battery)
        for found in self.damage.get("intake", ()):
            self._know(found)
        while not self.ended:
            choice = rules.policy.choice[self.state]
            if choice >= len(rules.moves):
                self._end(bool(rules.finishes[self.state]))
            else:
                self._make(rules.moves[choice])
        self.minutes += self._ending_minutes()
        return self

    @property
    def finished(self) -> bool:
        """Whether it ended as a unit to be sold as working."""
        return self.ended == "finished"

    @property
    def grade(self) -> int:
        """0 all working, 1 one function lost, 2 more."""
        return min(len(self.open), 2)

    @property
    def rework(self) -> float:
        """Expected cost of comebacks: the attempts that worked, by their hazards."""
        weight = sum(hazard for hazard, _ in self.hazards)
        return sum(hazard * cost for hazard, cost in self.hazards) / weight if weight else 0.0

    def record(self) -> JobRecord:
        """The play as the invented shop would record it, for the sale."""
        return JobRecord(tuple(self.lines.values()), self.reached > 0, self.finished, len(self.open), 0.0)

    def _ending_minutes(self) -> float:
        """Minutes of closing up or stripping; whatever stopped it, a suspect battery is seen before that."""
        problem = self.rules.problem
        if self.finished:
            assert not (self.reached and self._known_bad() and not self.battery.out)
            return problem.finish_minutes[int(self.reached > 0)]
        if not self.reached and not self.rules.true["hidden"]:
            # The chance that it is bad is the plan's expectation here, not a play's.
            return float(self.rules.stopped.minutes[self.state, 0])
        if problem.parts and not self.reached and not self.rules.stopped.taken[:, self.state].any():
            return problem.stop_minutes[1]  # left closed: nothing in it is worth its minutes
        parts = self.rules.strip_minutes(self.state, self.reached)
        return problem.stop_minutes[1] + self.battery.before_strip(self._truly_bad()) + parts

    def _known_bad(self) -> bool:
        """Whether a bad cell was found in it and not replaced."""
        return any(self.rules.kinds[kind].battery == "hazard" for kind in self.open)

    def _truly_bad(self) -> bool:
        """Whether there is a bad cell in it, found or not."""
        faults, kinds = self.rules.problem.latent_faults, self.rules.kinds
        there = {fault.key for fault, branch in zip(faults, self.branch, strict=True) if branch == 0}
        unseen = there - set(self.lines)
        return self._known_bad() or any(kinds[kind].battery == "hazard" for kind in unseen)

    def _branch(self, index: int) -> int:
        """What a latent fault of the plan hides: 0 the fault is there, 1 it is not."""
        rules, latent_fault = self.rules, self.rules.problem.latent_faults[index]
        if rules.true["hidden"]:
            return 0 if rules.world.there[latent_fault.key][self.number] else 1
        chance = latent_fault.chance[0, self.scenario]
        return 0 if rules.world.presence[self.number, index] < chance else 1

    def _know(self, found: Damage) -> None:
        if self.rules.kinds[found.kind].role == "repair":
            self.open[found.kind] = found
            self._write(found, "not-attempted")

    def _write(self, found: Damage, outcome: str) -> None:
        self.lines.pop(found.kind, None)
        self.lines[found.kind] = Line(found.kind, found.severity, found.zone, "intake", outcome)

    def _make(self, move) -> None:
        """One act of the plan."""
        rules, digit = self.rules, move.digit
        if digit == rules.battery:
            end = 0
            self.minutes += self.battery.act(move.kind, self.reached > 0, self._known_bad())
        elif digit >= rules.option:
            end = self._option(digit - rules.option, move)
        elif digit >= rules.check:
            end = self._check(digit - rules.check)
            self._charge(move, end)
        elif digit >= FIRST_LATENT_FAULT:
            assert tuple(move.ends) == (1, 2), "wrecks have hidden faults and no symptoms to trace"
            end = self.branch[digit - FIRST_LATENT_FAULT]
            self._charge(move, end)
            self._judged_when_seen(rules.problem.latent_faults[digit - FIRST_LATENT_FAULT].key)
            if end == 0:
                hidden = self.hidden[rules.problem.latent_faults[digit - FIRST_LATENT_FAULT].key]
                self._know(hidden if rules.true["hidden"] else hidden._replace(severity=2))
        else:
            end = 0
            if move.start >= self.reached:
                self._charge(move, end, extra=not rules.true["breakages"])
            self.state = int(rules.policy.next_state[self.state, end])
            self._reach(move.start + 1)
            return
        if not self.ended:
            self.state = int(rules.policy.next_state[self.state, end])
            if rules.option <= digit < rules.battery:
                self._break_something()

    def _judged_when_seen(self, kind: str) -> None:
        """Check that a cell is judged only in an open device, on a battery that was inspected."""
        if self.rules.kinds[kind].battery == "hazard":
            assert self.reached and self.battery.seen

    def _charge(self, move, end: int, extra: bool = True) -> None:
        self.minutes += move.minutes[end]
        if extra:
            self.spent += move.costs[end] - move.minutes[end] * self.rules.problem.rate

    def _check(self, index: int) -> int:
        """Read a check, with the accuracy that the plan assumes: 0 it finds something, 1 nothing."""
        check = self.rules.problem.checks[index]
        there = any(self.branch[latent_fault] == branch for latent_fault, branch in check.reveals)
        right = check.sensitivity[self.scenario] if there else 1 - check.specificity[self.scenario]
        return 0 if self.rules.world.reads[self.number, index] < right else 1

    def _reach(self, level: int) -> None:
        """Open the unit as far as a level; the first time, this reveals what is inside."""
        first, self.reached = self.reached == 0, max(self.reached, level)
        if not first:
            return
        rules = self.rules
        planned = {latent_fault.key for latent_fault in rules.problem.latent_faults}
        there = rules.world.there
        found = [d for d in self.hidden.values() if d.kind not in planned and there[d.kind][self.number]]
        if rules.true["surprises"]:
            self._surprise(found)
        if rules.true["breakages"]:
            self._surprise(self.damage.get("opening-break", ()))

    def _break_something(self) -> None:
        """Apply the breakage that this repair causes, if any."""
        found = self.damage.get("repair-break", ())
        if self.rules.true["breakages"] and self.reached:
            new = [d for d in found if d.kind not in self.lines]
            self._surprise([d for d in new if self.attempts >= breaks_after(d)])

    def _option(self, index: int, move) -> int:
        """Try a repair of the plan: 0 it worked, 1 it did not."""
        rules = self.rules
        option, repair = rules.problem.options[index], rules.inputs.repairs[index]
        group = [found for kind, found in self.open.items() if kind in repair.closes]
        lead = min(group, key=lambda d: repair.closes.index(d.kind))
        second = any(found.kind in self.failed for found in group)
        if not second and self._cannot(lead, repair.slug):
            self.failed |= {found.kind for found in group}
            if rules.bench.needed(group):
                self.ended = "stopped"
            return 1
        fixed = None
        if not rules.true["chances"]:
            chance, place = option.chance, (move.ends[0] - 1) // 2
            if place:
                rival = rivals(rules.problem.options, index)[place - 1]
                chance = option.chance_after.get(rival, option.chance)
            fixed = lead.luck["second_outcome" if second else "outcome"] < chance[self.scenario]
        planned = rules.inputs.luck.options[index]
        if planned.days is not None:
            self.waited = max(self.waited, float(planned.days[self.path]))
        belief, dice = rules.beliefs[index], rules.world.extras[self.number, index]
        if not rules.true["breakages"] and dice[0] < belief.collateral_chance:
            self.spent += rules.worth.damage(belief)
        if not rules.true["dead-parts"]:
            sound = np.prod([1.0 - line.dead_on_arrival for line in rules.inputs.parts[index]])
            again = rules.inputs.forecasts[index].minutes_fixed.mean() * rules.problem.rate
            self.spent += again * (dice[1] >= sound)
        fixed = self._attempt(group, lead, repair.slug, second, index, fixed)
        self.planned_comeback += fixed * planned.comeback[self.path]
        return 0 if fixed else 1

    def _cannot(self, lead: Damage, method: str) -> bool:
        """Whether the attempt is never made: it looks hopeless, or its part cannot be had."""
        rules, bench = self.rules, self.rules.bench
        if rules.true["no-part"] and bench.no_part(lead, bench.book_cost(self.unit, lead.kind, method)):
            return True
        return rules.true["given-up"] and bench.looks_hopeless(self.unit, lead)

    def _attempt(
        self, group: list[Damage], lead: Damage, method: str, second: bool, index: int = -1, fixed=None
    ) -> bool:
        """Make an attempt, by the true chance where `fixed` is None.

        index : of the plan's option; -1 where the plan has none.
        """
        rules, bench = self.rules, self.rules.bench
        made = bench.attempt(self.unit, lead, method, second)
        fixed = bool(made.fixed if fixed is None else fixed)
        minutes = bench.minutes(made.median, lead, fixed, made.dead_part, second)
        # Paid over listed, asked of a round sum so that the cents' rounding does not show.
        ratio = bench.parts_cost(1e4, lead, False, second) / 1e4
        times = bench.parts_cost(1e4, lead, made.dead_part, second) / 1e4 / ratio
        book = made.book_cost
        if index >= 0:
            told = rules.inputs.forecasts[index]
            if not rules.true["minutes"]:
                minutes = (told.minutes_fixed if fixed else told.minutes_failed)[self.path]
            ratio = ratio if rules.true["parts-ratio"] else told.parts_ratio[self.path]
            book = book if rules.true["price-book"] else sum(line.price for line in rules.inputs.parts[index])
        parts = book * ratio * times
        self.minutes += minutes
        self.spent += parts
        self.attempts += 1
        self.used.add(method)
        for found in group:
            self._write(found, "fixed" if fixed else "not-fixed")
            if fixed:
                self.open.pop(found.kind, None)
            else:
                self.failed.add(found.kind)
        self.unplanned = [found for found in self.unplanned if found not in group]
        if fixed:
            families = {rules.kinds[found.kind].family for found in group}
            hazard = sum(rules.world.truth.families[family].comeback[0] for family in families)
            self.hazards.append((hazard, minutes * rules.problem.rate + parts))
        return fixed

    def _surprise(self, damage) -> None:
        """Handle damage that the plan's states do not contain."""
        rules = self.rules
        for found in damage:
            # As in the invented shop: what the work already done would have closed is no news.
            if self.ended or found.kind in self.open or rules.bench.usual[found.kind] in self.used:
                continue
            self._know(found)
            self.unplanned.append(found)
            if self.reached and rules.kinds[found.kind].battery == "hazard":
                self.minutes += self.battery.make_safe()  # then and there, whatever is decided next
            if not self._joins(found):
                self._deal_with(found)

    def _joins(self, found: Damage) -> bool:
        """Whether a later repair of the plan would close it at the same time."""
        options = self.rules.states[self.state, self.rules.option :]
        return any(
            options[index] == 0 and found.kind in repair.closes and set(repair.closes) & self._planned_open()
            for index, repair in enumerate(self.rules.inputs.repairs)
        )

    def _planned_open(self) -> set[str]:
        return set(self.open) - {found.kind for found in self.unplanned} - self.left

    def _deal_with(self, found: Damage) -> None:
        """Repair it once if its cost is below its chance times what is at stake; else stop, or leave it."""
        rules, bench = self.rules, self.rules.bench
        self.unplanned = [other for other in self.unplanned if other is not found]
        needed, method = bench.needed([found]), bench.usual[found.kind]
        if needed:
            stake = rules.policy.value[self.state] - rules.stopping[self.state]
        else:
            lost = min(len((self.failed | self.left) & set(self.open) - {found.kind}), 2)
            stake = rules.finishing[lost] - rules.finishing[min(lost + 1, 2)]
        level = ACCESS_LEVELS.index(rules.world.catalogue.repairs[method].access)
        access = sum(rules.problem.access_minutes[self.reached : level])
        cost = (bench.median_minutes(self.unit, found, method) + access) * rules.problem.rate
        cost += bench.book_cost(self.unit, found.kind, method)
        chance = rules.world.truth.kinds[found.kind].chance[found.severity - 1]
        fixed = False
        if cost < chance * stake:
            self.minutes += access
            self.reached = max(self.reached, level)
            fixed = self._attempt([found], found, method, False)
        if not fixed:
            self.left.add(found.kind)
            self.ended = "stopped" if needed else ""

    def _end(self, finish: bool) -> None:
        """Finish or stop, as planned; before finishing, repair the damage that no repair closed."""
        if finish and self.reached and self.rules.true["late-finds"]:
            self._surprise(self.damage.get("final-test", ()))
        for found in list(self.unplanned) if finish else ():
            if not self.ended:
                self._deal_with(found)
        self.ended = self.ended or ("finished" if finish else "stopped")
