"""The invented shop's true world for one unit: everything unknown to the plan, drawn many times.

One unit at intake, and for each simulated play of it a job effect, hidden faults, later
breakages, luck at the bench and after the sale. Every truth comes from `synthetic_cases`;
this file only asks it for many plays of the same wreck. A play also has a path of the
plan's own simulation, for everything that is played as the plan assumes it. Paths are
matched to plays by the rank of their chances and of the job effect, so that both worlds
have good and bad units in the same plays.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from scipy.special import ndtr

from synthetic_cases import bench as shop_bench
from synthetic_cases.bench_work import JobRecord
from synthetic_cases.damage import Damage, draw_damage, hidden_damage
from synthetic_cases.jobs import Jobs
from synthetic_cases.past import Past, play_past
from synthetic_cases.sales import Sales, sell
from synthetic_cases.stripping import PartFates, part_fates
from synthetic_cases.truth import Truth
from triage.domain.catalogue import Catalogue
from triage.domain.units.unit import Finding, Unit
from triage.workflows.answers.pricing import UnitPricing

STREAMS = ("effect", "hidden", "damage", "path", "checks", "extras", "sales", "parts")
NEVER = date(2999, 1, 1)


@dataclass(frozen=True)
class Wreck:
    """A bought unit at the invented shop's intake.

    unit : as described to the product. person : as the invented bench knows it.
    asked : asking price, money. seen : by kind.
    """

    unit: Unit
    person: shop_bench.Unit
    asked: float
    seen: dict[str, Damage]
    intake: Jobs
    row: int


def wrecks(truth: Truth, count: int, seed: int) -> list[Wreck]:
    """The first `count` bought units of a past the models never saw, as if taken in on the as-of day."""
    past = play_past(truth, seed, int(1.3 * count / (1 - truth.bench.walk_in)) + 20)
    rows = np.flatnonzero(~past.intake.walk_in)[:count]
    return [_wreck(truth, past, int(row)) for row in rows]


def _wreck(truth: Truth, past: Past, row: int) -> Wreck:
    person = past.units[row]._replace(day=truth.as_of)
    seen = {found.kind: found for found in past.damage[row] if found.origin == "intake"}
    unit = Unit(
        name=f"wreck {row + 1}",
        tier=person.tier,
        cause=person.cause,
        technician=person.technician,
        findings=tuple(Finding(d.kind, d.severity, d.zone) for d in seen.values()),
        working_price=float(person.working_price),
    )
    return Wreck(unit, person, float(past.sales.paid[row]), seen, past.intake, row)


@dataclass(frozen=True)
class World:
    """What is true in each play of one wreck; every array starts with axis (play,).

    damage : of each play, by origin; hidden faults that are not there are in
        it too, with their luck. there : by hidden fault, whether it is there.
    path : ndarray of int, index of the plan's path that goes with the play.
    reads : uniform numbers of the checks, shape (play, check).
    extras : the same of the plan's own damage done and dead parts, shape (play, option, 2).
    """

    truth: Truth
    catalogue: Catalogue
    wreck: Wreck
    job_effect: np.ndarray
    damage: list[dict[str, list[Damage]]]
    there: dict[str, np.ndarray]
    path: np.ndarray
    presence: np.ndarray
    reads: np.ndarray
    extras: np.ndarray
    sale_seed: tuple[int, ...]
    parts_seed: tuple[int, ...]

    @property
    def plays(self) -> int:
        """How many times the wreck is played."""
        return len(self.job_effect)

    def sales(self, records: list[JobRecord], warranty_days: int) -> Sales:
        """Sell every play, its record never cut off; what is promised is the shop's own warranty."""
        families = {
            slug: replace(family, warranty_days=warranty_days) for slug, family in self.truth.families.items()
        }
        truth = replace(self.truth, as_of=NEVER, families=families)
        intake, rows = self.wreck.intake, np.full(self.plays, self.wreck.row)
        jobs = Jobs(
            intake.date[rows], intake.closed[rows], intake.tier[rows], intake.cause[rows],
            intake.walk_in[rows], intake.working_price[rows], self.job_effect,
        )  # fmt: skip
        streams = (np.random.default_rng(seed) for seed in (self.sale_seed, self.parts_seed))
        return sell(truth, self.catalogue, jobs, records, self._unseen, *streams)

    def parts(self, records: list[JobRecord]) -> PartFates:
        """What is true of the parts of every play; the same luck whatever was done."""
        price = np.full(self.plays, self.wreck.person.working_price, dtype=float)
        rng = np.random.default_rng(self.parts_seed)
        return part_fates(self.truth, self.catalogue, price, records, self._unseen, rng)

    @property
    def _unseen(self) -> list[dict[str, int]]:
        """Hidden faults that are there in each play, found or not, by severity."""
        return [
            {found.kind: found.severity for found in damage.get("hidden", ()) if self.there[found.kind][play]}
            for play, damage in enumerate(self.damage)
        ]


def draw_world(truth: Truth, wreck: Wreck, pricing: UnitPricing, plays: int, seed: int) -> World:
    """Draw what is true of a wreck, `plays` times."""
    catalogue = pricing.shop.catalogue
    streams = {name: np.random.default_rng([seed, wreck.row, n]) for n, name in enumerate(STREAMS)}
    normal = streams["effect"].standard_normal(plays)
    slugs = [*truth.kinds, *truth.risks]
    visible = np.tile([slug in wreck.seen for slug in slugs], (plays, 1))  # (play, kind)
    hidden = hidden_damage(truth, visible, streams["hidden"])  # (play, hidden fault)
    # Every hidden fault is drawn with its luck, there or not: a fault that only
    # the plan's world has then meets the luck it would have met in the true one.
    drawn = draw_damage(truth, catalogue, visible, np.ones_like(hidden), streams["damage"])
    damage: list[dict[str, list[Damage]]] = [{} for _ in range(plays)]
    for found in drawn:
        if found.origin == "intake":
            known = wreck.seen[found.kind]
            found = found._replace(severity=known.severity, zone=known.zone)
        damage[found.job].setdefault(found.origin, []).append(found)
    problem = pricing.inputs.problem
    return World(
        truth,
        catalogue,
        wreck,
        truth.job_effect_sd * normal,
        damage,
        dict(zip(truth.hidden, hidden.T, strict=True)),
        _matched_paths(pricing, normal, streams["path"]),
        streams["path"].random((plays, len(problem.latent_faults))),
        streams["checks"].random((plays, len(problem.checks))),
        streams["extras"].random((plays, len(problem.options), 2)),
        *((seed, wreck.row, STREAMS.index(stage)) for stage in ("sales", "parts")),
    )


def _matched_paths(pricing: UnitPricing, normal: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """A path of the plan for each play, each equally likely, matched by rank of the repairs' success."""
    problem, scenario = pricing.inputs.problem, pricing.inputs.luck.scenario
    luck = sum((option.chance for option in problem.options), np.zeros_like(problem.weights))
    order = np.lexsort((rng.random(len(scenario)), luck[scenario]))
    return order[np.minimum((ndtr(normal) * len(order)).astype(int), len(order) - 1)]
