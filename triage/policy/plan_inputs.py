"""From a unit, its forecast, prices and settings to a plan problem and its luck."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date

import numpy as np

from triage.domain.catalogue import ACCESS_LEVELS, Catalogue, Repair
from triage.domain.price_book import PriceBook
from triage.domain.settings import Settings
from triage.domain.units import Unit
from triage.policy.forecast import RepairForecast, UnitForecast
from triage.policy.intake import access_level, cell_hazard, repairable, unexplained_symptoms
from triage.policy.plan_checks import may_power_outside, plan_checks
from triage.policy.plan_play import Luck, OptionLuck
from triage.policy.plan_problem import Item, Mystery, Option, PlanProblem
from triage.priors.repair_beliefs import RepairBelief, RepairBeliefs

HOT_ACTS = frozenset({"heat", "pry", "press", "charge", "power"})
UNEXPLAINED = "unexplained"
_PER_OPTION = ("repairs", "forecasts", "parts")


@dataclass(frozen=True)
class PartLine:
    """One part of a repair: its price (money), whether the price stands, when it can be here.

    lead_days : soonest, likely, latest.
    """

    part: str
    price: float
    confirmed: bool
    on_hand: bool
    lead_days: tuple[float, float, float]
    dead_on_arrival: float
    grade: str = ""


@dataclass(frozen=True)
class PlanInputs:
    """A unit ready to be planned and played.

    repairs, parts : one entry an option of the problem.
    sale : ndarray, shape (3, path), sale price by grade.
    entry_minutes : bench minutes before anything else: making a bad cell safe.
    """

    problem: PlanProblem
    luck: Luck
    repairs: tuple[Repair, ...]
    forecasts: tuple[RepairForecast, ...]
    parts: tuple[tuple[PartLine, ...], ...]
    sale: np.ndarray
    working_price: float
    parts_value: float
    entry_minutes: float


@dataclass(frozen=True)
class Bench:
    """What stands still while units come and go: the shop's books."""

    catalogue: Catalogue
    settings: Settings
    prices: PriceBook
    beliefs: RepairBeliefs
    today: date
    part_prices: dict[str, float] = field(default_factory=dict)


def plan_inputs(unit: Unit, forecast: UnitForecast, bench: Bench, owned: bool, seed: int = 0) -> PlanInputs:
    """Lay a unit out as a plan problem.

    Parameters
    ----------
    unit : normalised (`triage.policy.intake.normalise`).
    owned : False when the unit is somebody else's (a walk-in): it is put
        together and returned where a unit of the shop's would be stripped.
    """
    working = _working_price(unit, bench)
    items, mysteries = _items(unit, forecast, bench)
    checks = plan_checks(
        unit, items, mysteries, forecast.weights, forecast.draw, bench.catalogue.check, bench.beliefs,
        may_power_outside(unit, bench.catalogue), seed,
    )  # fmt: skip
    repairs = _repairs(_workable(unit, items), forecast, bench.catalogue)
    forecasts = tuple(_lead_forecast(repair, items, forecast) for repair in repairs)
    lines = tuple(tuple(part_line(part, unit, bench, working) for part in repair.parts) for repair in repairs)
    rng = np.random.default_rng(seed)
    options, luck = [], []
    index_of = {repair.slug: index for index, repair in enumerate(repairs)}
    for repair, told, parts in zip(repairs, forecasts, lines, strict=True):
        worth = _Worth(working, bench, owned)
        belief = bench.beliefs.repair_belief(repair.slug)
        option, fell = _option(repair, told, parts, belief, worth, items, index_of, rng)
        options.append(option)
        luck.append(fell)
    minutes, settings = bench.settings.minutes, bench.settings
    opening_loss = settings.opening_damage_chance * settings.opening_damage_share * working
    problem = PlanProblem(
        items=tuple(items),
        options=tuple(options),
        mysteries=tuple(mysteries),
        weights=forecast.weights,
        rate=settings.bench_rate / 60.0,
        access_minutes=(minutes.open, minutes.board_out, minutes.shields_off),
        access_extra=(opening_loss, 0.0, 0.0),
        finish_minutes=(minutes.verify, minutes.close + minutes.seal + minutes.verify),
        stop_minutes=(minutes.strip,) * 2 if owned else (0.0, minutes.reassemble),
        checks=checks,
        daily_loss=settings.value_loss_per_month / 30.0 * working if owned else 0.0,
    )
    sale = working * np.stack(forecast.sale_ratio) * _market_share(unit, settings)
    return PlanInputs(
        problem,
        Luck(forecast.path_scenario, tuple(luck), seed),
        tuple(repairs),
        forecasts,
        lines,
        sale,
        working,
        _parts_value(unit, bench),
        minutes.make_safe if cell_hazard(unit, bench.catalogue) else 0.0,
    )


def with_problem(inputs: PlanInputs, problem: PlanProblem, options: list[int]) -> PlanInputs:
    """The same unit under a problem that keeps only the given options."""
    return replace(
        inputs,
        problem=problem,
        luck=replace(inputs.luck, options=tuple(inputs.luck.options[o] for o in options)),
        **{name: tuple(getattr(inputs, name)[o] for o in options) for name in _PER_OPTION},
    )


def part_line(part: str, unit: Unit, bench: Bench, working: float) -> PartLine:
    """Price and supply of one part for a unit; a missing price is assumed and not confirmed."""
    prices, settings = bench.prices, bench.settings
    entry = prices.entry(part)
    known = bench.part_prices.get(part, prices.price(part, unit.tier, unit.model))
    confirmed = part in bench.part_prices or prices.confirmed(
        part, unit.tier, bench.today, settings.price_age_days, unit.model
    )
    return PartLine(
        part,
        working * settings.missing_part_share if known is None else known,
        confirmed,
        entry.on_hand if entry else False,
        entry.lead_days if entry else (1.0, 7.0, 21.0),
        entry.dead_on_arrival if entry else 0.0,
        entry.grade if entry else "",
    )


def _items(unit: Unit, forecast: UnitForecast, bench: Bench) -> tuple[list[Item], list[Mystery]]:
    """Seen and suspected findings, then hidden faults, then the causes of symptoms."""
    catalogue, scenarios = bench.catalogue, len(forecast.weights)
    items: list[Item] = []
    mysteries: list[Mystery] = []
    for finding in repairable(unit, catalogue):
        if finding.seen:
            items.append(_item(catalogue, finding.kind))
        else:
            _suspect(items, mysteries, catalogue, finding.kind, np.full(scenarios, finding.chance))
    traced = unexplained_symptoms(unit, catalogue)
    causes = {kind for symptom in traced for kind in forecast.causes[symptom]}
    on_unit = {finding.kind for finding in unit.findings}
    for kind, chance in forecast.hidden.items():
        looked_at = unit.battery == "sound" and catalogue.kinds[kind].battery == "hazard"
        if kind not in on_unit and kind not in causes and not looked_at:
            _suspect(items, mysteries, catalogue, kind, chance)
    for symptom in traced:
        kinds = [k for k in forecast.causes[symptom] if catalogue.kinds[k].role == "repair"]
        shares = [forecast.causes[symptom][kind] for kind in kinds]
        place = len(mysteries)
        for branch, kind in enumerate(kinds):
            items.append(_item(catalogue, kind, place, branch))
        # What no cause explains is found nowhere: nothing closes it.
        items.append(Item(f"{UNEXPLAINED} {symptom}", True, False, place, len(kinds)))
        chance = np.tile(np.array([*shares, max(0.0, 1.0 - sum(shares))])[:, None], scenarios)
        access = ACCESS_LEVELS.index(catalogue.symptoms[symptom].access)
        mysteries.append(Mystery(symptom, chance, access, bench.settings.minutes.trace_cause))
    return items, mysteries


def _item(catalogue: Catalogue, kind: str, mystery: int = -1, branch: int = -1) -> Item:
    entry = catalogue.kinds[kind]
    return Item(kind, entry.needed, entry.battery == "hazard", mystery, branch)


def _suspect(
    items: list[Item], mysteries: list[Mystery], catalogue: Catalogue, kind: str, chance: np.ndarray
) -> None:
    """Add a damage that may or may not be there."""
    items.append(_item(catalogue, kind, len(mysteries), 0))
    entry = catalogue.kinds[kind]
    both = np.stack([chance, 1.0 - chance])
    mysteries.append(Mystery(kind, both, access_level(entry), None, entry.battery == "hazard"))


def _workable(unit: Unit, items: list[Item]) -> list[Item]:
    """Items that may be worked on: an owner who refused extra work beforehand is not surprised."""
    if unit.extra_work == "ask":
        return items
    named = {finding.kind for finding in unit.findings}
    return [item for item in items if item.mystery < 0 or item.key in named]


def _repairs(items: list[Item], forecast: UnitForecast, catalogue: Catalogue) -> list[Repair]:
    """Every repair that closes something on the unit, in catalogue order."""
    keys = {item.key for item in items}
    wanted = {repair for kind, repair in forecast.repairs if kind in keys}
    return [repair for repair in catalogue.repair if repair.slug in wanted]


def _lead_forecast(repair: Repair, items: list[Item], forecast: UnitForecast) -> RepairForecast:
    keys = {item.key for item in items}
    lead = next(kind for kind in repair.closes if kind in keys)
    return forecast.repairs[lead, repair.slug]


@dataclass(frozen=True)
class _Worth:
    """What labour, damage and comebacks cost on one unit."""

    working: float
    bench: Bench
    owned: bool

    @property
    def rate(self) -> float:
        return self.bench.settings.bench_rate / 60.0

    def damage(self, belief: RepairBelief) -> float:
        """Money lost when a repair damages something else."""
        owed = 0.0 if self.owned else self.bench.settings.owner_damage_liability
        return belief.collateral_cost_share * self.working + owed

    def comeback(self, rework: float) -> float:
        """Money lost by one comeback: rework, or a refund less what the unit then fetches."""
        settings = self.bench.settings
        if not self.owned:
            return rework
        refund = self.working * (1.0 - settings.resale_after_refund_share)
        return settings.comeback_refund_share * refund + (1.0 - settings.comeback_refund_share) * rework


def _option(
    repair: Repair,
    told: RepairForecast,
    parts: tuple[PartLine, ...],
    belief: RepairBelief,
    worth: _Worth,
    items: list[Item],
    index_of: dict[str, int],
    rng: np.random.Generator,
) -> tuple[Option, OptionLuck]:
    """One repair as an option, with its expected money, and how it falls out on each path."""
    book = sum(line.price for line in parts)
    minutes = np.stack([told.minutes_fixed, told.minutes_failed])
    spent = book * told.parts_ratio
    damage, again = worth.damage(belief), told.minutes_fixed.mean() * worth.rate
    dead = 1.0 - float(np.prod([1.0 - line.dead_on_arrival for line in parts]))
    rework = again + float(spent.mean())
    loss = worth.comeback(rework)
    expected_extra = belief.collateral_chance * damage + dead * again
    paths = len(told.minutes_fixed)
    extra = damage * (rng.random(paths) < belief.collateral_chance) + again * (rng.random(paths) < dead)
    option = Option(
        key=repair.slug,
        closes=tuple(i for i, item in enumerate(items) if item.key in repair.closes),
        chance=told.chance,
        minutes=(float(minutes[0].mean()), float(minutes[1].mean())),
        parts=(float(spent.mean()),) * 2,
        extra=(expected_extra,) * 2,
        access=ACCESS_LEVELS.index(repair.access),
        after=tuple(index_of[slug] for slug in repair.after if slug in index_of),
        chance_after={
            index_of[slug]: chance for slug, chance in told.chance_after.items() if slug in index_of
        },
        salvage=belief.salvage_share,
        recovered=book * worth.bench.settings.recovered_part_share if worth.owned else 0.0,
        comeback=float(told.comebacks.mean()) * loss,
        wait_days=max((line.lead_days[1] for line in parts if not line.on_hand), default=0.0),
        hot=bool(HOT_ACTS & set(repair.acts)),
    )
    awaited = [line.lead_days for line in parts if not line.on_hand]
    days = [rng.triangular(*_spread(lead), paths) for lead in awaited]
    fell = OptionLuck(
        minutes,
        np.stack([spent, spent]),
        np.stack([extra, extra]),
        rng.poisson(told.comebacks) * loss,
        np.max(days, axis=0) if days else None,
    )
    return option, fell


def _spread(lead: tuple[float, float, float]) -> tuple[float, float, float]:
    """Least, likely and most days, kept apart so that a triangular draw exists."""
    return lead[0], lead[1], max(lead[2], lead[0] + 1e-9)


def _working_price(unit: Unit, bench: Bench) -> float:
    if unit.working_price is not None:
        return unit.working_price
    return bench.prices.working_price(unit.tier, unit.model)


def _market_share(unit: Unit, settings: Settings) -> float:
    """What is left of the working price by the day of sale: carrier lock, time on the shelf."""
    lock = settings.carrier_locked_share if unit.ownership.carrier_locked else 1.0
    return lock * (1.0 - settings.value_loss_per_month) ** (settings.days_to_sell / 30.0)


def _parts_value(unit: Unit, bench: Bench) -> float:
    """What its parts fetch: as given, else the tier's by whether the panel is broken."""
    if unit.parts_value is not None:
        return unit.parts_value
    tier = bench.prices.tiers()[unit.tier]
    broken = any(bench.catalogue.kinds[f.kind].family == "display" for f in unit.findings)
    return tier.parts_value_broken_panel if broken else tier.parts_value_good_panel
