"""One repair of a device as an option of the plan: parts, minutes, damage, comebacks, simulated values."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from zlib import crc32

import numpy as np

from triage.domain.catalogue_entries import ACCESS_LEVELS, Repair
from triage.domain.shop.price_book import UNKNOWN_LEAD_DAYS
from triage.domain.units.unit import Unit
from triage.policy.problem.books import Books
from triage.policy.problem.forecast import RepairForecast
from triage.policy.problem.luck import OptionLuck
from triage.policy.problem.payoffs import comeback_cost
from triage.policy.problem.problem import Item, Option
from triage.priors.repair_beliefs import RepairBelief


@dataclass(frozen=True)
class PartLine:
    """One part of a repair: its price (money), whether the price stands, when it can be here.

    lead_days : soonest, likely, latest. age_days : since the price was checked; None where nobody says.
    """

    part: str
    price: float
    confirmed: bool
    on_hand: bool
    lead_days: tuple[float, float, float]
    dead_on_arrival: float
    grade: str = ""
    age_days: int | None = None


def part_line(part: str, unit: Unit, bench: Books, working: float) -> PartLine:
    """Price and supply of one part for a unit; a missing price is assumed and not confirmed."""
    prices, settings = bench.prices, bench.settings
    entry = prices.supplied(part, unit.tier, unit.model)
    known = bench.part_prices.get(part, prices.price(part, unit.tier, unit.model))
    confirmed = part in bench.part_prices or prices.confirmed(
        part, unit.tier, bench.today, settings.price_age_days, unit.model
    )
    return PartLine(
        part,
        working * settings.missing_part_share if known is None else known,
        confirmed,
        entry.on_hand if entry else False,
        entry.lead_days if entry else UNKNOWN_LEAD_DAYS,
        entry.dead_on_arrival if entry else 0.0,
        entry.grade if entry else "",
        None if entry is None or entry.checked_on is None else (bench.today - entry.checked_on).days,
    )


@dataclass(frozen=True)
class Worth:
    """What labour, damage and comebacks cost on one unit."""

    working: float
    bench: Books
    owned: bool

    @property
    def rate(self) -> float:
        """Money per bench minute."""
        return self.bench.settings.bench_rate / 60.0

    def damage(self, belief: RepairBelief) -> float:
        """Money lost when a repair damages something else."""
        owed = 0.0 if self.owned else self.bench.settings.owner_damage_liability
        return belief.collateral_cost_share * self.working + owed

    def comeback(self, rework: float) -> float:
        """Money lost by one comeback: rework, or a refund less what the unit then fetches."""
        return comeback_cost(self.bench.settings, self.working, rework, self.owned)


def plan_option(
    repair: Repair,
    told: RepairForecast,
    parts: tuple[PartLine, ...],
    belief: RepairBelief,
    worth: Worth,
    items: list[Item],
    index_of: dict[str, int],
    seed: int,
) -> tuple[Option, Callable[[], OptionLuck]]:
    """One repair as an option, with its expected money, and its simulated values on each path.

    Each repair has its own stream of random numbers, so that another one added
    to the device leaves its draws unchanged. A part dead on arrival costs the bench
    time of doing it again; what is paid for a second part is in `parts_ratio`.
    """
    book = sum(line.price for line in parts)
    minutes, spent = told.mean_minutes, book * told.mean_parts_ratio
    damage, again = worth.damage(belief), minutes[0] * worth.rate
    dead = 1.0 - float(np.prod([1.0 - line.dead_on_arrival for line in parts]))
    loss = worth.comeback(again + spent)
    awaited = [line.lead_days for line in parts if not line.on_hand]
    option = Option(
        key=repair.slug,
        closes=tuple(i for i, item in enumerate(items) if item.key in repair.closes),
        chance=told.chance,
        minutes=minutes,
        parts=(spent,) * 2,
        extra=(belief.collateral_chance * damage + dead * again,) * 2,
        access=ACCESS_LEVELS.index(repair.access),
        after=tuple(index_of[slug] for slug in repair.after if slug in index_of),
        chance_after={
            index_of[slug]: chance for slug, chance in told.chance_after.items() if slug in index_of
        },
        salvage=belief.salvage_share,
        recovered=book * worth.bench.settings.recovered_part_share if worth.owned else 0.0,
        comeback=told.mean_comebacks * loss,
        wait_days=max((lead[1] for lead in awaited), default=0.0),
        acts=frozenset(repair.acts),
        new_battery=repair.new_battery,
        replaces=frozenset(
            replaced for part in repair.parts if (replaced := worth.bench.catalogue.parts[part].replaces)
        ),
        shared=told.shared,
    )

    def fell() -> OptionLuck:
        rng, paths = np.random.default_rng([seed, crc32(repair.slug.encode())]), len(told.minutes_fixed)
        broke, arrived_dead = rng.random(paths) < belief.collateral_chance, rng.random(paths) < dead
        parts_spent, extra = book * told.parts_ratio, damage * broke + again * arrived_dead
        comebacks = rng.poisson(told.comebacks).astype(float) * loss
        days = [rng.triangular(*_spread(lead), paths) for lead in awaited]
        return OptionLuck(
            np.stack([told.minutes_fixed, told.minutes_failed]),
            np.stack([parts_spent, parts_spent]),
            np.stack([extra, extra]),
            comebacks,
            np.max(days, axis=0) if days else None,
        )

    return option, fell


def _spread(lead: tuple[float, float, float]) -> tuple[float, float, float]:
    """Least, likely and most days, kept apart so that a triangular draw exists."""
    return lead[0], lead[1], max(lead[2], lead[0] + 1e-9)
