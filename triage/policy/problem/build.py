"""From a device, its forecast, prices and settings to a plan problem and its simulated paths."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from triage.arrays import Floats
from triage.domain.catalogue_entries import Repair
from triage.domain.shop.settings import Settings
from triage.domain.units.unit import Unit
from triage.policy.problem.books import Books
from triage.policy.problem.checks import plan_checks
from triage.policy.problem.forecast import RepairForecast, UnitForecast
from triage.policy.problem.items import lead_forecast, offered_repairs, plan_items, with_harms, workable
from triage.policy.problem.luck import Luck, OnDemand
from triage.policy.problem.options import PartLine, Worth, part_line, plan_option
from triage.policy.problem.parts.unit_parts import UnitPart, standing_harms, unit_parts
from triage.policy.problem.problem import PlanProblem
from triage.policy.problem.safety import minutes_in_doubt, plan_safety
from triage.policy.problem.shared import SharedSale


@dataclass(frozen=True)
class PlanInputs:
    """A unit ready to be planned and played.

    repairs, parts : one entry an option of the problem.
    sale : ndarray, shape (3, path), sale price by grade.
    entry_minutes : bench minutes before anything else: making a bad cell safe.
    shared_sale : how `sale` moves with the posterior draw.
    """

    problem: PlanProblem
    luck: Luck
    repairs: tuple[Repair, ...]
    forecasts: tuple[RepairForecast, ...]
    parts: tuple[tuple[PartLine, ...], ...]
    sale: Floats
    working_price: float
    parts_value: float
    entry_minutes: float
    shared_sale: SharedSale = field(default_factory=SharedSale)


def plan_inputs(unit: Unit, forecast: UnitForecast, bench: Books, owned: bool, seed: int = 0) -> PlanInputs:
    """Lay a unit out as a plan problem.

    Parameters
    ----------
    unit : normalised (`triage.policy.problem.normalise.normalise`).
    owned : False when the unit is somebody else's (a walk-in): it is put
        together and returned where a unit of the shop's would be stripped.
    """
    working = _working_price(unit, bench)
    items, latent_faults = plan_items(unit, forecast, bench)
    yields = unit_parts(unit, bench) if owned else ()
    if yields:
        items = with_harms(items, latent_faults, unit, bench)
    safety = plan_safety(unit, bench)
    checks = plan_checks(
        unit, items, latent_faults, forecast.weights, forecast.draw, bench, safety, seed,
    )  # fmt: skip
    repairs = offered_repairs(unit, workable(unit, items), forecast, bench.catalogue)
    forecasts = tuple(lead_forecast(repair, items, forecast) for repair in repairs)
    lines = tuple(tuple(part_line(part, unit, bench, working) for part in repair.parts) for repair in repairs)
    options, luck = [], []
    index_of = {repair.slug: index for index, repair in enumerate(repairs)}
    for repair, told, parts in zip(repairs, forecasts, lines, strict=True):
        worth = Worth(working, bench, owned)
        belief = bench.beliefs.repair_belief(repair.slug)
        option, fell = plan_option(repair, told, parts, belief, worth, items, index_of, seed)
        options.append(option)
        luck.append(fell)
    minutes, settings = bench.settings.minutes, bench.settings
    doubt = minutes_in_doubt(safety, items, latent_faults, forecast.weights)
    drying = minutes.liquid_look if safety.liquid != "none" else 0.0
    strip = 0.0 if yields else minutes.strip  # parts have minutes of their own
    opening_loss = settings.opening_damage_chance * settings.opening_damage_share * working
    problem = PlanProblem(
        items=tuple(items),
        options=tuple(options),
        latent_faults=tuple(latent_faults),
        weights=forecast.weights,
        rate=settings.bench_rate / 60.0,
        access_minutes=(minutes.open + drying, minutes.board_out, minutes.shields_off),
        access_extra=(opening_loss, 0.0, 0.0),
        finish_minutes=(minutes.verify, minutes.close + minutes.seal + minutes.verify),
        stop_minutes=(strip + doubt, strip) if owned else (0.0, minutes.reassemble),
        checks=checks,
        daily_loss=settings.value_loss_per_month / 30.0 * working if owned else 0.0,
        nodes=forecast.nodes,
        owned=owned,
        safety=safety,
        parts=yields,
        harms=standing_harms(unit, bench.catalogue) if yields else (),
    )
    ratio, shared_sale = _sale_by_grade(forecast, bench.prices.limited_share(unit.model))
    sale = working * ratio * _market_share(unit, settings)
    return PlanInputs(
        problem,
        Luck(forecast.path_scenario, OnDemand(luck), seed),
        tuple(repairs),
        forecasts,
        lines,
        sale,
        working,
        _parts_value(unit, bench, yields),
        minutes.make_safe if safety.battery == "bad" else 0.0,
        shared_sale,
    )


def with_problem(inputs: PlanInputs, problem: PlanProblem, options: list[int]) -> PlanInputs:
    """The same unit under a problem that keeps only the given options."""
    return replace(
        inputs,
        problem=problem,
        luck=inputs.luck.only(options),
        repairs=tuple(inputs.repairs[o] for o in options),
        forecasts=tuple(inputs.forecasts[o] for o in options),
        parts=tuple(inputs.parts[o] for o in options),
    )


def _working_price(unit: Unit, bench: Books) -> float:
    if unit.working_price is not None:
        return unit.working_price
    return bench.prices.working_price(unit.tier, unit.model)


def _sale_by_grade(forecast: UnitForecast, limited: float | None) -> tuple[Floats, SharedSale]:
    """Sale price over working price, shape (3, path), and how it moves with the posterior draw.

    limited : the shop's own share of the working price with one function lost. It takes the place of
        the learned drop from grade 0 to 1; the drop from 1 to 2, and all luck, stay as learned.
    """
    ratio, shared = np.stack(forecast.sale_ratio), forecast.shared_sale
    if limited is None:
        return ratio, shared
    further = np.divide(ratio[2], ratio[1], out=np.zeros_like(ratio[2]), where=ratio[1] > 0)
    level = shared.level
    return (
        np.stack([ratio[0], limited * ratio[0], limited * ratio[0] * further]),
        SharedSale.of(np.stack([level[0], level[0], level[0] * level[2] / level[1]]), shared.spread),
    )


def _market_share(unit: Unit, settings: Settings) -> float:
    """What is left of the working price by the day of sale: carrier lock, time on the shelf."""
    lock = settings.carrier_locked_share if unit.ownership.carrier_locked else 1.0
    left: float = (1.0 - settings.value_loss_per_month) ** (settings.days_to_sell / 30.0)
    return lock * left


def _parts_value(unit: Unit, bench: Books, yields: tuple[UnitPart, ...]) -> float:
    """What its parts fetch: as given, else all together if each is good, else the model's or the tier's."""
    if unit.parts_value is not None:
        return unit.parts_value
    if yields:
        return sum(part.price for part in yields)
    broken = any(bench.catalogue.kinds[f.kind].family == "display" for f in unit.findings)
    return bench.prices.parts_value(unit.tier, unit.model, broken)
