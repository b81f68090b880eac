"""Likelihood of check results, jointly with the faults that they reveal.

A check makes the latent faults that it reveals dependent: a positive result that
one fault explains is no longer evidence for another (explaining away). Each
dependent group is one factor of the plan's likelihood, summed over every
combination of its faults.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from math import prod

import numpy as np

from triage.arrays import Bools, Floats
from triage.errors import PlanTooLargeError
from triage.policy.problem.problem import LatentFault, PlanCheck, PlanProblem
from triage.policy.problem.safety import bad_branches, looked_apart
from triage.policy.solver.likelihood_layout import Factor
from triage.policy.solver.state_space import TableFactor
from triage.policy.solver.state_view import FIRST_LATENT_FAULT, NEGATIVE, POSITIVE, first_check

# Numbers that one factor may hold: 160 MB of them.
MOST_CELLS = 20_000_000


@dataclass(frozen=True)
class EvidenceFactor:
    """Latent faults and the checks on them, as one factor.

    columns : digits of the latent faults, then of the checks.
    truths : ndarray of int, shape (truth, latent fault), every way the truth may be.
    chance : ndarray, shape (truth, scenario).
    positive : ndarray, shape (check, truth, scenario), chance of a positive reading.
    apart : how many branches each latent fault has, and which of them the look at a suspect
        battery distinguishes from the others; none where it distinguishes nothing.
    """

    columns: tuple[int, ...]
    truths: np.ndarray
    chance: Floats
    positive: Floats
    apart: tuple[tuple[int, tuple[int, ...]], ...] = ()
    by_draw: bool = True

    def rows(self, local: np.ndarray, part: slice) -> Floats:
        """Likelihood of what is known and read, shape (row, scenario)."""
        count = self.truths.shape[1]
        known, read = local[:, :count], local[:, count:]
        out = np.empty((len(local), self.chance[:, part].shape[1]))
        agrees = self._agrees(known)
        for reading in np.unique(read, axis=0):
            joint = self.chance[:, part].copy()
            for check, result in enumerate(reading):
                if result == POSITIVE:
                    joint *= self.positive[check][:, part]
                elif result == NEGATIVE:
                    joint *= 1.0 - self.positive[check][:, part]
            rows = np.flatnonzero((read == reading).all(axis=1))
            out[rows] = agrees[rows].astype(float) @ joint
        return out

    def _agrees(self, known: np.ndarray) -> Bools:
        """Whether each truth agrees with every latent fault as far as it is settled, shape (row, truth)."""
        agrees = (known[:, None, :] == 0) | (known[:, None, :] == self.truths[None] + 1)
        for column, (branches, bad) in enumerate(self.apart):
            if bad:
                not_that = (known[:, column] == branches + 1)[:, None]
                agrees[:, :, column] |= not_that & ~np.isin(self.truths[:, column], bad)[None]
        every: Bools = agrees.all(axis=2)
        return every


def knowledge_factors(problem: PlanProblem) -> tuple[Factor, ...]:
    """One factor for each group of latent faults that checks make dependent."""
    return tuple(_factor(problem, latent_faults, checks) for latent_faults, checks in tied_groups(problem))


def tied_groups(problem: PlanProblem) -> list[tuple[list[int], list[int]]]:
    """Groups of latent faults with the checks that reveal them, each latent fault in one group."""
    groups: list[tuple[set[int], list[int]]] = [({m}, []) for m in range(len(problem.latent_faults))]
    for index, check in enumerate(problem.checks):
        touched = {latent_fault for latent_fault, _ in check.reveals}
        joined = [group for group in groups if group[0] & touched]
        merged = (
            set().union(*(group[0] for group in joined)),
            [*(c for group in joined for c in group[1]), index],
        )
        groups = [group for group in groups if group not in joined] + [merged]
    return [(sorted(latent_faults), checks) for latent_faults, checks in groups]


def _factor(problem: PlanProblem, latent_faults: list[int], checks: list[int]) -> Factor:
    columns = tuple(FIRST_LATENT_FAULT + m for m in latent_faults) + tuple(
        first_check(problem) + c for c in checks
    )
    entries = [problem.latent_faults[m] for m in latent_faults]
    looked, bad = looked_apart(problem), bad_branches(problem)
    apart = tuple(
        (len(problem.latent_faults[m].chance), tuple(bad[m] if looked[m] else ())) for m in latent_faults
    )
    if not checks:
        chance = entries[0].chance
        rows = [np.ones((1, chance.shape[1])), chance]
        if apart[0][1]:
            rows.append(np.delete(chance, apart[0][1], axis=0).sum(axis=0, keepdims=True))
        return TableFactor(columns, np.concatenate(rows), by_draw=True)
    # Known before it is built: the list of joint truths grows as the product of what is not known.
    cells = (1 + len(checks)) * entries[0].chance.shape[1] * prod(len(entry.chance) for entry in entries)
    if cells > MOST_CELLS:
        raise PlanTooLargeError("too many possible causes share checks; find the cause of one symptom first")
    truths = np.array(list(product(*(range(entry.chance.shape[0]) for entry in entries))))
    return EvidenceFactor(
        columns,
        truths,
        _chance(entries, truths),
        np.stack([_positive(problem.checks[c], latent_faults, truths) for c in checks]),
        apart,
    )


def _chance(entries: list[LatentFault], truths: np.ndarray) -> np.ndarray:
    """Chance of each truth, shape (truth, scenario): latent faults are independent given the scenario."""
    chance = np.ones((len(truths), entries[0].chance.shape[1]))
    for column, entry in enumerate(entries):
        chance *= entry.chance[truths[:, column]]
    return chance


def _positive(check: PlanCheck, latent_faults: list[int], truths: np.ndarray) -> np.ndarray:
    """Chance of a positive reading under each truth, shape (truth, scenario)."""
    shown = np.zeros(len(truths), dtype=bool)
    for latent_fault, branch in check.reveals:
        shown |= truths[:, latent_faults.index(latent_fault)] == branch
    return np.where(shown[:, None], check.sensitivity[None, :], 1.0 - check.specificity[None, :])
