"""One attempt at the bench: its chance, its minutes and its parts."""

from __future__ import annotations

from datetime import date
from typing import NamedTuple

import numpy as np

from synthetic_cases.chances import Drift, conditional_logit
from synthetic_cases.damage import Damage
from synthetic_cases.truth import Family, Truth
from triage.domain.catalogue import Catalogue

BOOK_RISE_PER_YEAR = 0.03
PART_NOT_TAKEN_BACK = 1 / 3


class Unit(NamedTuple):
    """The unit as the bench knows it, and its job effect, which the bench does not know."""

    day: date
    tier: str
    cause: str
    technician: str
    walk_in: bool
    working_price: float
    job_effect: float


class Attempt(NamedTuple):
    """Result of one attempt: minutes, price-book cost and money paid.

    dead_part : the first part was dead. median : bench minutes of a usual success.
    """

    fixed: bool
    dead_part: bool
    minutes: int
    book_cost: float
    parts_cost: float
    median: float


class Bench:
    """The invented bench: the truth, turned into what one attempt needs."""

    def __init__(self, truth: Truth, catalogue: Catalogue, drift: Drift | None = None):
        self.truth, self.catalogue, self.drift = truth, catalogue, drift
        chances = np.array([kind.chance for kind in truth.kinds.values()])  # (kind, severity)
        logits = conditional_logit(chances, truth.job_effect_sd)
        self.logits = dict(zip(truth.kinds, logits.tolist(), strict=True))
        self.order = {slug: place for place, slug in enumerate(truth.kinds)}
        self.usual = {slug: catalogue.usual_method(slug) for slug in truth.kinds}
        self.methods = {slug: tuple(r.slug for r in catalogue.repairs_for(slug)) for slug in truth.kinds}
        self.shift = 0.0
        if drift:
            target = float(conditional_logit(np.array(drift.to_chance), truth.job_effect_sd))
            self.shift = target - self.logits[drift.kind][1]

    def logit(self, unit: Unit, kind: str, severity: int, method: str) -> float:
        """Logit of success of one attempt in this job."""
        truth = self.truth
        value = self.logits[kind][severity - 1] + self._drifted(kind, unit.day) + unit.job_effect
        value += truth.tiers[unit.tier].effect + truth.causes[unit.cause].effect
        value += truth.technicians[unit.technician].effect
        if method != self.usual[kind] and method in truth.methods:
            value += truth.methods[method].difference
        return value

    def _drifted(self, kind: str, day: date) -> float:
        if not self.drift or kind != self.drift.kind or day < self.drift.start:
            return 0.0
        if not self.drift.gradual:
            return self.shift
        until = self.drift.until or self.truth.as_of
        return self.shift * min((day - self.drift.start) / (until - self.drift.start), 1.0)

    def book_cost(self, unit: Unit, kind: str, method: str) -> float:
        """Price-book figure for the parts on the day of intake, money, to the half."""
        share = self.truth.kinds[kind].cost
        if method != self.usual[kind] and method in self.truth.methods:
            other = self.truth.methods[method].cost
            share = share if other is None else other
        years = (unit.day - self.truth.start).days / 365.25
        price = share * self.truth.tiers[unit.tier].working_price * (1 + BOOK_RISE_PER_YEAR * years)
        return round(2 * price) / 2

    def median_minutes(self, unit: Unit, lead: Damage, method: str) -> float:
        """Median bench minutes of a success."""
        truth = self.truth
        minutes = truth.kinds[lead.kind].minutes * truth.technicians[unit.technician].speed
        minutes *= np.exp(truth.minutes.severity * (lead.severity - 2))
        if method != self.usual[lead.kind] and method in truth.methods:
            minutes *= truth.methods[method].minutes
        return minutes

    def minutes(self, median: float, lead: Damage, fixed: bool, dead_part: bool, second: bool) -> int:
        """Whole bench minutes of one attempt, with the luck of its leading finding."""
        times, which = self.truth.minutes, "second_" if second else ""
        log_minutes = np.log(median) + times.sd * lead.normal[which + "minutes"]
        log_minutes += np.log(times.failure) * (not fixed) + np.log(times.dead_part) * dead_part
        if lead.luck[which + "stuck"] < times.stuck:
            log_minutes += np.log(times.stuck_factor) + times.stuck_sd * lead.normal[which + "stuck_size"]
        over = max(log_minutes - np.log(times.give_up), 0.0)
        # A success was reached before the bench gave up: its excess is folded back.
        return max(round(float(np.exp(log_minutes - over * (2 if fixed else 1)))), 1)

    def parts_cost(self, book: float, lead: Damage, dead_part: bool, second: bool) -> float:
        """Money paid for the parts of one attempt."""
        family = self.family(lead.kind)
        normal = lead.normal["second_parts" if second else "parts"]
        ratio = family.parts_ratio * np.exp(family.parts_sd * normal)
        paid_twice = dead_part and lead.luck["part_returned"] < PART_NOT_TAKEN_BACK
        return round(float(book * ratio * (1 + paid_twice)), 2)

    def attempt(self, unit: Unit, lead: Damage, method: str, second: bool = False) -> Attempt:
        """Make one attempt, with the chance and the luck of its leading finding.

        Parameters
        ----------
        second : another method has failed on the same damage before.
        """
        chance = 1 / (1 + np.exp(-self.logit(unit, lead.kind, lead.severity, method)))
        luck = lead.luck["second_outcome" if second else "outcome"]
        if second and lead.luck["same_difficulty"] < self.truth.bench.shared_difficulty:
            luck = lead.luck["outcome"]
        fixed = luck < chance

        book = self.book_cost(unit, lead.kind, method)
        dead = book > 0 and not second and lead.luck["dead_part"] < self.family(lead.kind).dead_part
        median = self.median_minutes(unit, lead, method)
        minutes = self.minutes(median, lead, fixed, dead, second)
        return Attempt(fixed, dead, minutes, book, self.parts_cost(book, lead, dead, second), median)

    def looks_hopeless(self, unit: Unit, lead: Damage) -> bool:
        """Whether the bench gives up on sight; likelier on a badly damaged unit."""
        rules = self.truth.bench
        log_odds = rules.hopeless + rules.hopeless_job_effect * unit.job_effect
        log_odds += rules.hopeless_severe * (lead.severity == 3)
        return lead.luck["hopeless"] < 1 / (1 + np.exp(-log_odds))

    def no_part(self, lead: Damage, cost: float) -> bool:
        """Whether the part that an attempt needs cannot be had."""
        return cost > 0 and lead.luck["part"] < self.truth.bench.no_part

    def family(self, kind: str) -> Family:
        """Give the truth about a kind's family."""
        return self.truth.families[self.catalogue.kinds[kind].family]

    def closes(self, method: str) -> tuple[str, ...]:
        """Kinds that a repair closes, the leading one first."""
        return self.catalogue.repairs[method].closes

    def needed(self, group: list[Damage]) -> bool:
        """Whether a unit cannot be sold as working without one of these."""
        return any(self.catalogue.kinds[found.kind].needed for found in group)
