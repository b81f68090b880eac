"""The shop's past jobs, simulated: intake, work and sale."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from synthetic_cases.bench import Bench, Unit
from synthetic_cases.bench_work import JobRecord, play
from synthetic_cases.chances import Drift
from synthetic_cases.damage import Damage, draw_damage, hidden_damage, visible_damage
from synthetic_cases.jobs import Jobs, draw_jobs, pick
from synthetic_cases.sales import Sales, sell
from synthetic_cases.truth import Truth
from triage.domain.catalogue import Catalogue, load_catalogue

# One independent stream of random numbers per stage, so a change in one does not affect the others.
STAGES = ("jobs", "visible", "hidden", "damage", "technicians", "sales", "parts")


@dataclass(frozen=True)
class Past:
    """All jobs before they are written to a file; all entries are in order of intake.

    damage : of each job, visible and hidden damage, and what may break or turn up.
    """

    intake: Jobs
    units: list[Unit]
    damage: list[list[Damage]]
    records: list[JobRecord]
    sales: Sales


def play_past(truth: Truth, seed: int, jobs: int | None = None, drift: Drift | None = None) -> Past:
    """Play the shop's past jobs; the arguments are those of `generate_history`."""
    catalogue = load_catalogue()
    streams = {stage: np.random.default_rng([seed, number]) for number, stage in enumerate(STAGES)}
    intake = draw_jobs(truth, truth.jobs if jobs is None else jobs, streams["jobs"])
    visible = visible_damage(truth, intake, streams["visible"])
    hidden = hidden_damage(truth, visible, streams["hidden"])
    found = draw_damage(truth, catalogue, visible, hidden, streams["damage"])
    technician = _technicians(truth, catalogue, visible, streams["technicians"])

    damage: list[list[Damage]] = [[] for _ in range(len(intake))]
    for each in found:
        damage[each.job].append(each)
    units = _units(truth, intake, technician)
    bench = Bench(truth, catalogue, drift)
    records = [play(bench, unit, of_job) for unit, of_job in zip(units, damage, strict=True)]
    unseen = [{each.kind: each.severity for each in of_job if each.origin == "hidden"} for of_job in damage]
    sales = sell(truth, catalogue, intake, records, unseen, streams["sales"], streams["parts"])
    return Past(intake, units, damage, records, sales)


def _technicians(
    truth: Truth, catalogue: Catalogue, visible: np.ndarray, rng: np.random.Generator
) -> np.ndarray:
    """Who works on each job, shape (job,): board work goes to some more than to others."""
    slugs = [*truth.kinds, *truth.risks]
    on_board = np.array([catalogue.kinds[slug].family in ("main-board", "liquid") for slug in slugs])
    people = truth.technicians.values()
    shares = np.array([[p.share for p in people], [p.board_share for p in people]])  # (board work, person)
    return pick(shares[(visible & on_board).any(axis=1).astype(int)], rng.random(len(visible)))


def _units(truth: Truth, jobs: Jobs, technician: np.ndarray) -> list[Unit]:
    tiers, causes, people = list(truth.tiers), list(truth.causes), list(truth.technicians)
    return [
        Unit(day, tiers[tier], causes[cause], people[person], walk_in, price, effect)
        for day, tier, cause, person, walk_in, price, effect in zip(
            jobs.date.tolist(),
            jobs.tier.tolist(),
            jobs.cause.tolist(),
            technician.tolist(),
            jobs.walk_in.tolist(),
            jobs.working_price.tolist(),
            jobs.job_effect.tolist(),
            strict=True,
        )
    ]
