"""What is wrong with a unit: what shows, what hides, what breaks on the way."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np

from synthetic_cases.jobs import Jobs, pick
from synthetic_cases.truth import Truth
from triage.domain.catalogue import Catalogue

Origin = Literal["intake", "hidden", "opening-break", "repair-break", "final-test"]
UNIFORMS = (
    "outcome",
    "second_outcome",
    "same_difficulty",
    "other_method",
    "second_try",
    "owner",
    "part",
    "price",
    "hopeless",
    "dead_part",
    "part_returned",
    "stuck",
    "second_stuck",
)
NORMALS = ("minutes", "stuck_size", "parts", "second_minutes", "second_stuck_size", "second_parts")


class Damage(NamedTuple):
    """One damage on one unit, found or waiting to be found, with its own luck.

    `luck` holds the uniform numbers of `UNIFORMS`, `normal` the standard normal
    ones of `NORMALS`: they belong to the damage, so that changing one kind's
    chance leaves the luck of all the others alone.
    """

    job: int
    kind: str
    severity: int
    zone: str
    origin: Origin
    luck: dict[str, float]
    normal: dict[str, float]


def breaks_after(found: Damage) -> int:
    """After which attempt of the job a breakage by a repair happens: 1, 2 or 3."""
    # A breakage never chooses a method, so that number is free to say it.
    return 1 + int(3 * found.luck["other_method"])


@dataclass(frozen=True)
class _Found:
    """Parallel arrays of damage before its severity is drawn, shape (damage,)."""

    job: np.ndarray
    kind: np.ndarray
    origin: tuple[Origin, ...]


def visible_damage(truth: Truth, jobs: Jobs, rng: np.random.Generator) -> np.ndarray:
    """Draw what is seen at intake.

    One bundle of the job's cause (its lead always, the others by chance), and
    strays of any kind; both as often as the tier has them. Severity has no part
    in it, nor has the job effect.

    Returns
    -------
    ndarray of bool, shape (job, kind), over the truth's kinds and then its risks.
    """
    slugs = [*truth.kinds, *truth.risks]
    place = {slug: index for index, slug in enumerate(slugs)}
    factor = np.ones((len(truth.tiers), len(slugs)))  # (tier, kind)
    factor[:, : len(truth.kinds)] = np.array([kind.tiers for kind in truth.kinds.values()]).T
    strays = [kind.stray for kind in truth.kinds.values()] + [risk.stray for risk in truth.risks.values()]
    stray = np.array(strays)

    lead = np.array([place[bundle.lead] for bundle in truth.bundles])
    inside = np.zeros((len(truth.bundles), len(slugs)))  # (bundle, kind)
    for row, bundle in enumerate(truth.bundles):
        for slug, chance in bundle.others.items():
            inside[row, place[slug]] = chance
    of_cause = np.array([[b.cause == cause for b in truth.bundles] for cause in truth.causes])
    weight = np.array([bundle.weight for bundle in truth.bundles])
    # of_cause: (cause, bundle)
    shares = of_cause[jobs.cause] * weight * factor[jobs.tier][:, lead]  # (job, bundle)

    came = pick(shares, rng.random(len(jobs)))
    chance = 1 - (1 - inside[came]) * (1 - stray)  # (job, kind)
    chance = np.minimum(chance * factor[jobs.tier], 1.0)
    shown = rng.random(chance.shape) < chance
    leading = lead[came]
    shown[np.arange(len(jobs)), leading] = True
    return _at_most(_exclude(shown, leading, place, truth), leading, truth.most_findings, rng)


def _exclude(shown: np.ndarray, lead: np.ndarray, place: dict[str, int], truth: Truth) -> np.ndarray:
    """Keep one of each exclusive group: the lead if it is in the group, else the first listed."""
    for group in truth.exclusive:
        columns = np.array([place[slug] for slug in group if slug in place], dtype=int)
        taken = np.isin(lead, columns)
        for column in columns:
            is_lead = lead == column
            shown[:, column] &= is_lead | ~taken
            taken |= shown[:, column]
    return shown


def _at_most(shown: np.ndarray, lead: np.ndarray, most: int, rng: np.random.Generator) -> np.ndarray:
    """Drop findings at random above the most that are recorded, never the lead."""
    rank = np.where(shown, rng.random(shown.shape), 2.0)
    rank[np.arange(len(lead)), lead] = -1.0
    return shown & (rank.argsort(axis=1).argsort(axis=1) < most)


def hidden_damage(truth: Truth, visible: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Draw the hidden faults from what shows.

    Returns
    -------
    ndarray of bool, shape (job, hidden fault), in the truth's order.
    """
    place = {slug: index for index, slug in enumerate([*truth.kinds, *truth.risks])}
    there = np.zeros((len(visible), len(truth.hidden)), dtype=bool)
    for column, fault in enumerate(truth.hidden.values()):
        log_odds = np.full(len(visible), np.log(fault.base / (1 - fault.base)))
        for slug, weight in fault.raised_by.items():
            log_odds += weight * visible[:, place[slug]]
        there[:, column] = rng.random(len(visible)) < 1 / (1 + np.exp(-log_odds))
    return there


def draw_damage(
    truth: Truth, catalogue: Catalogue, visible: np.ndarray, hidden: np.ndarray, rng: np.random.Generator
) -> list[Damage]:
    """List every damage of every job, with the breakages and late finds that may come.

    Parameters
    ----------
    visible : ndarray of bool, shape (job, kind). hidden : shape (job, hidden fault).
    """
    found = _gather(truth, visible, hidden, rng)
    slugs = [*truth.kinds, *truth.risks]
    mix = np.array(
        [kind.severity for kind in truth.kinds.values()] + [risk.severity for risk in truth.risks.values()]
    )
    severity = 1 + pick(mix[found.kind], rng.random(len(found.kind)))
    where = rng.random(len(found.kind)).tolist()
    luck = rng.random((len(found.kind), len(UNIFORMS))).tolist()
    normal = rng.standard_normal((len(found.kind), len(NORMALS))).tolist()
    damage = []
    for row, (job, kind) in enumerate(zip(found.job.tolist(), found.kind.tolist(), strict=True)):
        zones = catalogue.kinds[slugs[kind]].zones
        damage.append(
            Damage(
                job=job,
                kind=slugs[kind],
                severity=int(severity[row]),
                zone=zones[int(where[row] * len(zones))] if zones else "",
                origin=found.origin[row],
                luck=dict(zip(UNIFORMS, luck[row], strict=True)),
                normal=dict(zip(NORMALS, normal[row], strict=True)),
            )
        )
    return damage


def _gather(truth: Truth, visible: np.ndarray, hidden: np.ndarray, rng: np.random.Generator) -> _Found:
    """Put the five origins of damage into one list; none doubles what a job has already."""
    place = {slug: index for index, slug in enumerate([*truth.kinds, *truth.risks])}
    present = visible.copy()
    jobs, kinds, origins = [], [], []

    def add(job: np.ndarray, kind: np.ndarray, origin: Origin) -> None:
        present[job, kind] = True
        jobs.append(job)
        kinds.append(kind)
        origins.extend([origin] * len(job))

    job, kind = np.nonzero(visible)
    add(job, kind, "intake")
    job, fault = np.nonzero(hidden)
    add(job, np.array([place[slug] for slug in truth.hidden], dtype=int)[fault], "hidden")
    bench = truth.bench
    later: tuple[tuple[Origin, float, dict[str, float]], ...] = (
        ("opening-break", bench.opening_breaks, bench.breaks),
        # Three repairs' worth: which of them does it is settled at the bench.
        ("repair-break", 1 - (1 - bench.repair_breaks) ** 3, bench.breaks),
        ("final-test", bench.test_finds, bench.finds),
    )
    for origin, chance, weights in later:
        happens = rng.random(len(visible)) < chance
        which = np.array([place[slug] for slug in weights], dtype=int)
        kind = which[pick(np.array(list(weights.values())), rng.random(len(visible)))]
        job = np.flatnonzero(happens & ~present[np.arange(len(visible)), kind])
        add(job, kind[job], origin)
    return _Found(np.concatenate(jobs), np.concatenate(kinds), tuple(origins))
