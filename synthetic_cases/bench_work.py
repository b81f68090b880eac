"""The bench: one job played from the quote to the final test."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from synthetic_cases.bench import Bench, Unit
from synthetic_cases.damage import Damage, breaks_after

KNOWN_AT = {
    "intake": "intake",
    "hidden": "opening",
    "opening-break": "opening",
    "repair-break": "opening",
    "final-test": "test",
}


class Line(NamedTuple):
    """One line of the record. Minutes, costs: NaN where nothing was done or shared."""

    kind: str
    severity: int
    zone: str
    known_at: str
    outcome: str
    why_not: str = ""
    method: str = ""
    minutes: float = np.nan
    book_cost: float = np.nan
    parts_cost: float = np.nan


@dataclass(frozen=True)
class JobRecord:
    """How a job ended.

    lines : in order of work. opened : whether the inside was seen.
    finished : nothing that a working unit needs is left undone.
    lost : optional findings left undone. charge : price of what was fixed, money.
    """

    lines: tuple[Line, ...]
    opened: bool
    finished: bool
    lost: int
    charge: float


def play(bench: Bench, unit: Unit, damage: list[Damage]) -> JobRecord:
    """Play one job."""
    return _Play(bench, unit, damage).run()


@dataclass
class _Play:
    """One job while it is on the bench."""

    bench: Bench
    unit: Unit
    damage: list[Damage]
    lines: list[Line] = field(default_factory=list)
    pending: list[Damage] = field(default_factory=list)
    method: dict[str, str] = field(default_factory=dict)
    used: set[str] = field(default_factory=set)
    attempts: int = 0
    opened: bool = False
    stopped: bool = False
    charge: float = 0.0

    def run(self) -> JobRecord:
        kinds = self.bench.catalogue.kinds
        seen = [d for d in self.damage if d.origin == "intake"]
        for risk in (d for d in seen if kinds[d.kind].role != "repair"):
            self.lines.append(Line(risk.kind, risk.severity, risk.zone, "intake", "not-attempted"))
        risky = bool(self.lines)
        self._take_on([d for d in seen if kinds[d.kind].role == "repair"])
        self._choose_methods()
        self._quote()
        self.opened = not self.stopped and (risky or any(self._needs_opening(d) for d in self.pending))
        if self.opened:
            self._take_on([d for d in self.damage if d.origin in ("hidden", "opening-break")])
        self._work()
        if self.opened and not self.stopped:
            self._take_on([d for d in self.damage if d.origin == "final-test"])
            self._work()
        undone = self._undone()
        finished = not any(kinds[kind].needed for kind in undone)
        return JobRecord(tuple(self.lines), self.opened, finished, len(undone), self.charge)

    def _undone(self) -> set[str]:
        """Kinds of role repair that were not fixed, not even by a second try."""
        kinds = self.bench.catalogue.kinds
        fixed = {line.kind for line in self.lines if line.outcome == "fixed"}
        return {line.kind for line in self.lines if kinds[line.kind].role == "repair"} - fixed

    def _take_on(self, damage: list[Damage]) -> None:
        """Add damage to the plan, by its usual repair.

        Damage that turns up late and that an earlier repair would have closed is
        left out: the bench would have fixed it at the same time.
        """
        for found in damage:
            usual = self.bench.usual[found.kind]
            if usual not in self.used:
                self.method[found.kind] = usual
                self.pending.append(found)
        self.pending.sort(key=lambda d: self.bench.order[d.kind])

    def _choose_methods(self) -> None:
        """Sometimes plan a method other than the usual one, more often if it closes more findings."""
        rules = self.bench.truth.bench
        for found in list(self.pending):
            for other in self.bench.methods[found.kind][1:]:
                together = [d for d in self.pending if d.kind in self.bench.closes(other)]
                chance = rules.other_method + rules.other_method_shared * (len(together) - 1)
                if self.method[found.kind] != other and found.luck["other_method"] < chance:
                    self.method.update({d.kind: other for d in together})
                    return

    def _quote(self) -> None:
        """Decide, before the unit is opened, which repairs will not be started."""
        rules, unit = self.bench.truth.bench, self.unit
        if self.pending and unit.walk_in and self.pending[0].luck["owner"] < rules.owner_declines:
            self._leave(self.pending, "owner-said-no")
            self.stopped = True
            return
        for group in self._groups():
            lead, needed = self._lead(group), self.bench.needed(group)
            cost = self.bench.book_cost(unit, lead.kind, self.method[lead.kind])
            why = ""
            if self.bench.no_part(lead, cost):
                why = "no-part"
            elif cost > rules.dear_share * unit.working_price and lead.luck["price"] < rules.too_dear:
                why = "too-dear"
            elif unit.walk_in and not needed and lead.luck["owner"] > 1 - rules.owner_declines_optional:
                why = "owner-said-no"
            if why:
                self._leave(group, why)
                if needed:
                    self._stop()
                    return

    def _work(self) -> None:
        """Do the pending repairs in order, until all are done or the job stops."""
        while self.pending and not self.stopped:
            first = self.pending[0]
            group = [d for d in self.pending if self.method[d.kind] == self.method[first.kind]]
            lead = self._lead(group)
            if self.bench.looks_hopeless(self.unit, lead):
                self._leave(group, "looked-hopeless")
                if self.bench.needed(group):
                    self._stop()
                continue
            if not self._attempt(group, lead):
                second = self._second_method(group, lead)
                if second:
                    group = [d for d in (*group, *self.pending) if d.kind in self.bench.closes(second)]
                    self.method.update({d.kind: second for d in group})
                    fixed = self._attempt(group, self._lead(group), second=True)
                    failed = not fixed and self.bench.needed(group)
                else:
                    failed = self.bench.needed(group)
                if failed:
                    self._stop()
            self._break_something()

    def _attempt(self, group: list[Damage], lead: Damage, second: bool = False) -> bool:
        """Make one attempt at a group, with its leading finding's chance and luck."""
        bench, method = self.bench, self.method[lead.kind]
        made = bench.attempt(self.unit, lead, method, second)
        outcome = "fixed" if made.fixed else "not-fixed"
        for found in sorted(group, key=lambda d: d is not lead):
            own = (made.minutes, made.book_cost, made.parts_cost) if found is lead else ()
            self.lines.append(self._line(found, outcome, "", method, *own))
        self.pending = [d for d in self.pending if d not in group]
        self.used.add(method)
        self.attempts += 1
        sales = bench.truth.sales
        self.charge += made.fixed * (sales.quote_parts * made.book_cost + sales.quote_minute * made.median)
        return made.fixed

    def _second_method(self, group: list[Damage], lead: Damage) -> str:
        """Another method for a required repair that failed, or an empty string."""
        needed = [d for d in group if self.bench.catalogue.kinds[d.kind].needed]
        if not needed or lead.luck["second_try"] >= self.bench.truth.bench.second_try:
            return ""
        for other in self.bench.methods[lead.kind]:
            if other not in self.used and all(d.kind in self.bench.closes(other) for d in needed):
                return other
        return ""

    def _break_something(self) -> None:
        """Apply the breakage that this repair causes, if any."""
        for found in self.damage:
            if found.origin == "repair-break" and self.attempts == breaks_after(found):
                if self.opened and not self.stopped and found.kind not in self.method:
                    self._take_on([found])

    def _groups(self) -> list[list[Damage]]:
        methods = dict.fromkeys(self.method[d.kind] for d in self.pending)
        return [[d for d in self.pending if self.method[d.kind] == method] for method in methods]

    def _lead(self, group: list[Damage]) -> Damage:
        closes = self.bench.closes(self.method[group[0].kind])
        return min(group, key=lambda d: closes.index(d.kind))

    def _needs_opening(self, found: Damage) -> bool:
        return self.bench.catalogue.repairs[self.method[found.kind]].access != "closed"

    def _stop(self) -> None:
        self._leave(self.pending, "job-stopped")
        self.stopped = True

    def _leave(self, damage: list[Damage], why: str) -> None:
        for found in list(damage):
            book = self.bench.book_cost(self.unit, found.kind, self.bench.usual[found.kind])
            self.lines.append(self._line(found, "not-attempted", why, "", np.nan, book))
        self.pending = [d for d in self.pending if d not in damage]

    def _line(self, found: Damage, outcome: str, why: str, method: str, *figures: float) -> Line:
        known_at = KNOWN_AT[found.origin]
        return Line(found.kind, found.severity, found.zone, known_at, outcome, why, method, *figures)
