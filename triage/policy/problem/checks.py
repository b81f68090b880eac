"""Which checks a unit's plan weighs, and how often each is right."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np

from triage.domain.catalogue_entries import ACCESS_LEVELS, Check
from triage.domain.safety.facts import facts
from triage.domain.shop.check_record import CheckRecord
from triage.domain.units.unit import Unit
from triage.policy.problem.books import Books
from triage.policy.problem.problem import Item, LatentFault, PlanCheck, Safety
from triage.priors.check_accuracy import accuracy_draws
from triage.priors.repair_beliefs import KNOWN_AFTER, CheckBelief

# Checks not yet made that one plan weighs: the most telling for their minutes. Each
# more than doubles the states; what leaving the rest out costs is measured in
# tests/benchmarks/results/set-aside.json.
MOST_OPEN_CHECKS = 4


def plan_checks(
    unit: Unit,
    items: list[Item],
    latent_faults: list[LatentFault],
    weights: np.ndarray,
    draw: np.ndarray,
    bench: Books,
    safety: Safety,
    seed: int,
) -> tuple[PlanCheck, ...]:
    """Checks that say something about what is not known: results in hand, then open ones.

    Parameters
    ----------
    draw : ndarray of int, shape (scenario,), posterior draw of each scenario.
    safety : what battery and liquid allow on a unit that is closed.
    """
    catalogue_checks = bench.catalogue.check
    outside = facts(safety.battery, safety.liquid, "closed")
    in_hand = {reading.check: reading.found for reading in unit.readings}
    made, telling = [], []
    for place, check in enumerate(catalogue_checks):
        shown = [item for item in items if item.latent_fault >= 0 and item.key in check.reveals]
        reveals = tuple(
            (item.latent_fault, item.branch)
            for item in shown
            if _tells_early(check, latent_faults[item.latent_fault])
        )
        if not reveals:
            continue
        entry = _check(check, reveals, bench, draw, seed + place)
        if check.slug in in_hand:
            made.append((place, replace(entry, result=in_hand[check.slug])))
        elif entry.access > 0 or safety.rules.allow(entry.acts, outside):
            bits = information(entry, latent_faults, weights)
            telling.append((bits / (entry.minutes + 1.0), place, entry))
    telling.sort(key=lambda found: (-found[0], found[1]))
    chosen = [*made, *((place, entry) for _, place, entry in telling[:MOST_OPEN_CHECKS])]
    places = [catalogue_checks[place] for place, _ in chosen]
    return tuple(
        replace(entry, excludes=_sharing(catalogue_checks[place], places))
        for place, entry in _honest(chosen, places)
    )


def _tells_early(check: Check, latent_fault: LatentFault) -> bool:
    """Whether a check can be made before a plain look settles the same thing."""
    return latent_fault.trace_minutes is not None or ACCESS_LEVELS.index(check.access) < latent_fault.access


def information(check: PlanCheck, latent_faults: list[LatentFault], weights: np.ndarray) -> float:
    """Mutual information, in bits, between a check's reading and what it reveals."""
    absent = np.ones_like(weights)
    for latent_fault in {m for m, _ in check.reveals}:
        branches = [b for m, b in check.reveals if m == latent_fault]
        absent = absent * (1.0 - latent_faults[latent_fault].chance[branches].sum(axis=0))
    present = float(weights @ (1.0 - absent))
    sensitivity, specificity = float(weights @ check.sensitivity), float(weights @ check.specificity)
    positive = present * sensitivity + (1.0 - present) * (1.0 - specificity)
    noise = present * _entropy(sensitivity) + (1.0 - present) * _entropy(specificity)
    return max(0.0, _entropy(positive) - noise)


def _check(
    check: Check, reveals: tuple[tuple[int, int], ...], bench: Books, draw: np.ndarray, seed: int
) -> PlanCheck:
    """A check with its accuracy, by assumption and record, drawn once a posterior draw."""
    belief = bench.beliefs.check_belief(check.slug)
    record = bench.check_records.get(check.slug, CheckRecord())
    sensitivity, specificity = _accuracy(belief, record, int(draw.max()) + 1, seed)
    return PlanCheck(
        check.slug,
        reveals,
        sensitivity[draw],
        specificity[draw],
        belief.minutes,
        ACCESS_LEVELS.index(check.access),
        acts=frozenset(check.acts),
    )


@lru_cache(128)
def _accuracy(
    belief: CheckBelief, record: CheckRecord, count: int, seed: int
) -> tuple[np.ndarray, np.ndarray]:
    """Sensitivity and specificity, one draw a posterior draw."""
    rng = np.random.default_rng(seed)
    if belief.jobs >= KNOWN_AFTER:
        return np.full(count, belief.sensitivity), np.full(count, belief.specificity)
    drawn = accuracy_draws(record, belief.sensitivity, belief.specificity, belief.jobs, count, rng)
    sensitivity, specificity = (np.clip(part, 1e-6, 1.0 - 1e-6) for part in drawn)
    return sensitivity, specificity


def _sharing(check: Check, chosen: list[Check]) -> tuple[int, ...]:
    """Chosen checks that repeat this one's error: one of them is enough."""
    return tuple(
        index
        for index, other in enumerate(chosen)
        if other.slug != check.slug
        and (other.slug in check.shares_error_with or check.slug in other.shares_error_with)
    )


def _honest(chosen: list[tuple[int, PlanCheck]], places: list[Check]) -> list[tuple[int, PlanCheck]]:
    """Of results in hand that share their error, only the first counts."""
    kept = []
    for index, (place, entry) in enumerate(chosen):
        earlier = [other for other in _sharing(places[index], places) if other < index]
        spoken = entry.result is not None and any(chosen[other][1].result is not None for other in earlier)
        kept.append(
            (place, replace(entry, sensitivity=_flat(entry), specificity=_flat(entry)) if spoken else entry)
        )
    return kept


def _flat(entry: PlanCheck) -> np.ndarray:
    """An accuracy that says nothing: as often right as wrong."""
    return np.full_like(entry.sensitivity, 0.5)


def _entropy(chance: float) -> float:
    if chance <= 0.0 or chance >= 1.0:
        return 0.0
    return float(-chance * np.log2(chance) - (1.0 - chance) * np.log2(1.0 - chance))
