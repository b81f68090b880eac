"""How likely each part of a unit is good in every state of its plan, exactly.

    chance(part i is good | state) = W_i(state) / W(state),

W_i being W with each branch of a latent fault weighed by the chance that the part survives it, inside
the factor of the checks on that fault: what a check says of a fault, it says of the part. Ruins of a
part by one mechanism count by the largest, as if one uniform number were drawn for the mechanism and
the part fell to every damage whose chance is above it. Between two such chances W_i is a plain product
again, so it is summed over these stretches.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product
from math import prod
from typing import NamedTuple

import numpy as np

from triage.arrays import Bools, Floats, Ints
from triage.policy.problem.parts.unit_parts import TESTING, Harm
from triage.policy.problem.problem import PlanProblem
from triage.policy.solver.evidence import knowledge_factors
from triage.policy.solver.likelihood_layout import Factor
from triage.policy.solver.state_view import FIRST_LATENT_FAULT, StateView

# A part ruined for certain by damage that may be repaired later is kept by so little, and divided by it then.
_HARDLY = 1e-9

Branch = tuple[int, int]  # a latent fault and one of its branches
Likelihoods = Callable[[Sequence[Factor], Floats, int], Floats]
Keeps = Mapping[Branch, float]  # chance that a part survives each branch; 1 where none is given


@dataclass(frozen=True)
class PartChances:
    """What is known of the parts of a unit; every array is (part, state), or (part, state, draw).

    good : chance that the part is good. proven : that it is good and can be tested, in the unit if that
        starts and is dry, or in a donor.
    level : share of its price that a good one fetches, by the damage seen at intake.
    """

    good: Floats
    proven: Floats
    level: Floats

    @cached_property
    def levels(self) -> tuple[tuple[Floats, Ints], ...]:
        """For each part the few levels that there are, and which of them each state has, shape (state,)."""
        return tuple((values, of.ravel()) for values, of in (_distinct(row) for row in self.level))

    def over_draws(self) -> PartChances:
        """Where chances do not go by draw: without that axis."""
        return PartChances(self.good[..., 0], self.proven[..., 0], self.level[..., 0])


class Hurt(NamedTuple):
    """One harm, with the item that does it; -1 where no work closes it."""

    harm: Harm
    item: int

    @property
    def by(self) -> tuple[str, str]:
        """What of several counts by the largest: one part, one mechanism."""
        return self.harm.part, self.harm.mechanism


# Chance that a part survives, by `Keeps`, shape (state, 1), or (state, draw) given each posterior draw.
Tilt = Callable[[Keeps], Floats]


def part_chances(view: StateView, tilt: Tilt) -> PartChances:
    """Chances of every part in every state of a view, (part, state, 1) or (part, state, draw)."""
    chances, parts = _Chances(view, tilt), view.problem.parts
    good = [chances.survives([part.key]) for part in parts]
    # A unit with liquid in it is never powered, not even to test what is taken off it.
    dry = view.tested_when_stripped[:, None]
    proven = [
        chances.survives([part.key]) if part.donor else chances.survives([part.key, TESTING]) * dry
        for part in parts
    ]
    level = [chances.level(part.key)[:, None] for part in parts]
    return PartChances(np.stack(good), np.stack(proven), np.stack(level))


def hurts(problem: PlanProblem, part: str) -> list[Hurt]:
    """Everything that harms one part."""
    standing = [Hurt(harm, -1) for harm in problem.harms if harm.part == part]
    return standing + [
        Hurt(harm, index)
        for index, item in enumerate(problem.items)
        for harm in item.harms
        if harm.part == part
    ]


def restored(view: StateView, hurt: Hurt) -> Bools:
    """Where a repair has closed the damage and brought the part back with it, shape (state,)."""
    back: Bools = np.zeros(len(view.states), dtype=bool)
    for option in _restoring(view.problem, hurt):
        back |= view.fixed[:, option]
    return back


def tilted(problem: PlanProblem, keeps: Keeps) -> PlanProblem:
    """The problem as it is where a part survives: branches that ruin it are less likely in it.

    `weights` no longer sum to 1 but to the chance of surviving.
    """
    weights, faults = problem.weights, []
    for place, fault in enumerate(problem.latent_faults):
        keep = np.array([keeps.get((place, branch), 1.0) for branch in range(len(fault.chance))])
        if (keep == 1.0).all():
            faults.append(fault)
            continue
        left = fault.chance * keep[:, None]
        total = left.sum(axis=0)
        weights = weights * total
        chance = np.divide(left, total, out=np.array(fault.chance), where=total > 0)
        faults.append(replace(fault, chance=chance))
    return replace(problem, weights=weights, latent_faults=tuple(faults))


def tilts(problem: PlanProblem, factors: Sequence[Factor], likelihoods: Likelihoods) -> Tilt:
    """W where a part survives over W, for any chances of surviving; each made once.

    Parameters
    ----------
    factors : of the problem as it is.
    likelihoods : W of each state, from factors, weights and nodes; shape (state,) or (state, draw).
    """
    whole = likelihoods(factors, problem.weights, problem.nodes)
    known: dict[tuple[tuple[Branch, float], ...], Floats] = {}

    def tilt(keeps: Keeps) -> Floats:
        key = tuple(sorted((branch, keep) for branch, keep in keeps.items() if keep != 1.0))
        if key not in known:
            left = tilted(problem, dict(key))
            found_out = knowledge_factors(left)
            likely = likelihoods((*found_out, *factors[len(found_out) :]), left.weights, left.nodes)
            ratio = np.divide(likely, whole, out=np.zeros_like(likely), where=whole > 0)
            known[key] = np.clip(ratio, 0.0, 1.0).reshape(len(ratio), -1)
        return known[key]

    return tilt


class _Chances:
    """Chances of surviving what a unit's parts went through."""

    def __init__(self, view: StateView, tilt: Tilt):
        self._problem, self._view, self._tilt = view.problem, view, tilt

    def level(self, part: str) -> Floats:
        """Share of its price that a good part fetches, shape (state,)."""
        left = np.ones(len(self._view.states))
        for group in _by_mechanism(hurts(self._problem, part)):
            least = np.ones_like(left)
            for hurt in group:
                if hurt.harm.left < 1.0:
                    lowered = np.where(restored(self._view, hurt), 1.0, hurt.harm.left)
                    least = np.minimum(least, lowered)
            left *= least
        return left

    def survives(self, parts: Iterable[str]) -> Floats:
        """Chance that nothing has ruined any of some parts, shape of a tilt."""
        chance = np.array(self._view.salvage)
        shared: list[list[Hurt]] = []
        for part in parts:
            for group in _by_mechanism(hurts(self._problem, part)):
                if any(self._branch(hurt) for hurt in group):
                    shared.append(group)
                else:
                    chance *= 1.0 - np.max([self._suffered(hurt) for hurt in group], axis=0)
        total: Floats = np.zeros((1, 1))
        for stretches in product(*(self._stretches(group) for group in shared)):
            length = prod(length for length, _ in stretches)
            total = total + length * self._given([pair for _, keeps in stretches for pair in keeps])
        survives: Floats = chance[:, None] * total
        return survives

    def _stretches(self, group: list[Hurt]) -> Iterator[tuple[float, list[tuple[Hurt, float]]]]:
        """Yield stretches of a mechanism's uniform number: how long, and what each damage keeps there."""
        branches = [self._branch(hurt) for hurt in group]
        apart = {branch[0] for branch in branches if branch}
        if None not in branches and len(apart) == 1 and len(set(branches)) == len(branches):
            # Causes of one symptom are never there together: each is one of its own.
            yield 1.0, [(hurt, 1.0 - hurt.harm.chance) for hurt in group]
            return
        edges = sorted({0.0, 1.0, *(hurt.harm.chance for hurt in group)})
        for low, high in zip(edges[:-1], edges[1:], strict=True):
            yield high - low, [(hurt, float(hurt.harm.chance <= low)) for hurt in group]

    def _given(self, keeps: list[tuple[Hurt, float]]) -> Floats:
        """Chance of surviving with these chances of each damage, shape of a tilt."""
        states, mend = self._view.states, np.ones(len(self._view.states))
        kept: dict[Branch, float]
        likely: list[tuple[Branch, float]] = []
        before: list[Bools] = []
        for hurt, keep in keeps:
            branch = self._branch(hurt)
            if branch is None:
                mend *= np.where(restored(self._view, hurt), 1.0, keep)
            elif keep < 1.0:
                back = restored(self._view, hurt)
                least = max(keep, _HARDLY) if back.any() else keep
                digit = states[:, FIRST_LATENT_FAULT + branch[0]]
                mend[back & (digit == branch[1] + 1)] /= least
                likely.append((branch, least))
                before.append(
                    back & ((digit == 0) | (digit > len(self._problem.latent_faults[branch[0]].chance)))
                )
        if not likely:
            return mend[:, None] * np.ones_like(self._tilt({}))
        if not any(rows.any() for rows in before):
            kept = defaultdict(lambda: 1.0)
            for branch, keep in likely:
                kept[branch] *= keep
            return self._tilt(kept) * mend[:, None]
        closed, pattern = np.unique(np.stack(before, axis=1), axis=0, return_inverse=True)
        chance = np.empty_like(self._tilt({}))
        for place, gone in enumerate(closed):
            kept = defaultdict(lambda: 1.0)
            for (branch, keep), closed_unfound in zip(likely, gone, strict=True):
                kept[branch] *= 1.0 if closed_unfound else keep
            rows = pattern.ravel() == place
            chance[rows] = self._tilt(kept)[rows]
        given: Floats = chance * mend[:, None]
        return given

    def _suffered(self, hurt: Hurt) -> Floats:
        """Chance that damage which is there for sure has ruined its part, shape (state,)."""
        return np.where(restored(self._view, hurt), 0.0, hurt.harm.chance)

    def _branch(self, hurt: Hurt) -> Branch | None:
        """The branch that the damage is, where it is not known to be there."""
        if hurt.item < 0:
            return None
        item = self._problem.items[hurt.item]
        return (item.latent_fault, item.branch) if item.latent_fault >= 0 else None


def _distinct(values: Floats) -> tuple[Floats, Ints]:
    if (values == values[0]).all():
        return values[:1], np.zeros(len(values), dtype=np.intp)
    distinct, of = np.unique(values, return_inverse=True)
    return distinct, of


def _by_mechanism(found: list[Hurt]) -> list[list[Hurt]]:
    groups: dict[tuple[str, str], list[Hurt]] = {}
    for hurt in found:
        groups.setdefault(hurt.by, []).append(hurt)
    return list(groups.values())


def _restoring(problem: PlanProblem, hurt: Hurt) -> list[int]:
    """Repairs that bring a part back with the damage they close."""
    if hurt.item < 0 or hurt.harm.stays:
        return []
    return [
        index
        for index, option in enumerate(problem.options)
        if hurt.item in option.closes and hurt.harm.part not in option.replaces
    ]
