"""What became of each part on every simulated path, once a unit is stripped.

The truth behind what is not known yet is drawn given the state that a path ends in and its scenario;
then whether each part is good, whether the unit can be tested in, and what each part fetches. The random
numbers stand by the unit alone: another price, and another plan, meet the same.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from zlib import crc32

import numpy as np

from triage.arrays import Bools, Floats, Ints
from triage.policy.problem.luck import Luck
from triage.policy.problem.parts.unit_parts import TESTING
from triage.policy.problem.payoffs import PurchaseTerms, Purse
from triage.policy.problem.problem import PlanProblem
from triage.policy.problem.safety import bad_branches
from triage.policy.solver.evidence import tied_groups
from triage.policy.solver.parts.chances import PartChances, hurts, restored
from triage.policy.solver.parts.stripping import LEFT, TESTED, Stopping
from triage.policy.solver.state_space import StateSpace
from triage.policy.solver.state_view import StateView

# Whether each latent fault is in a branch, on the paths that end in one state.
Truth = Ints  # shape (latent fault, path)


@dataclass(frozen=True)
class Wreck:
    """What stripping rests on: a unit's states, what is known of its parts in each, what is done there."""

    problem: PlanProblem
    space: StateSpace
    chances: PartChances
    stopping: Stopping
    recovered: Floats


def strip_paths(
    wreck: Wreck, terms: PurchaseTerms[float], luck: Luck, state: Ints, scenario: Ints, stops: Bools
) -> Purse:
    """Money lines of stripping on each path, shape (path,) each.

    Parameters
    ----------
    state : ndarray of int, shape (path,), where each path ends.
    scenario : ndarray of int, shape (path,).
    stops : ndarray of bool, shape (path,), whether it is stripped there; the others fetch nothing.
    """
    problem, fate = wreck.problem, _Fate(wreck.problem, luck)
    price, fees, tax = np.zeros((3, len(state)))
    fees += terms.fees.disposal
    for ended in np.unique(state[stops]):
        rows = np.flatnonzero(stops & (state == ended))
        view = StateView(problem, wreck.space.states[ended : ended + 1])
        truth = fate.truth(wreck.space, int(ended), scenario[rows], rows)
        can_test = fate.survives(TESTING, view, truth, rows)
        sold = [terms.part_purse(np.repeat(wreck.recovered[ended], len(rows)), 0.0)]
        for place, part in enumerate(problem.parts):
            how = wreck.stopping.taken[place, ended, 0]
            if how == LEFT:
                continue
            good = fate.survives(part.key, view, truth, rows) & fate.unhurt(place, view, rows)
            proven = (how == TESTED) & (can_test | part.donor)
            share = np.where(proven, 1.0, part.untested) * good
            fetched = part.price * wreck.chances.level[place, ended] * fate.price(place, rows)
            sold.append(terms.part_purse(share * fetched, part.share))
        for line, total in (("price", price), ("fees", fees), ("tax", tax)):
            total[rows] += sum(getattr(purse, line) for purse in sold)
    return Purse(price, fees, tax)


class _Fate:
    """The random numbers of a unit's parts, the same for every plan and every price."""

    def __init__(self, problem: PlanProblem, luck: Luck):
        self._problem, self._paths, self._seed = problem, len(luck.scenario), luck.seed

    def truth(self, space: StateSpace, ended: int, scenario: Ints, rows: Ints) -> Truth:
        """Branch of each latent fault on the paths that end in a state."""
        problem = self._problem
        truth = np.zeros((len(problem.latent_faults), len(rows)), dtype=np.intp)
        for (faults, checks), factor in zip(tied_groups(problem), space.factors, strict=False):
            state = space.states[ended, list(factor.columns)]
            ways = self._ways(faults, state[: len(faults)])
            local = np.column_stack([ways + 1, np.tile(state[len(faults) :], (len(ways), 1))])
            likely = np.cumsum(factor.rows(local, slice(None))[:, scenario], axis=0)
            drawn = self._uniform(f"truth {faults} {len(checks)}")[rows] * likely[-1]
            chosen = np.minimum((drawn[None] >= likely).sum(axis=0), len(ways) - 1)
            truth[faults] = ways[chosen].T
        return truth

    def _ways(self, faults: list[int], known: Ints) -> Ints:
        """Every way that a group of latent faults may be, given what is known of them, shape (way, fault)."""
        bad = bad_branches(self._problem)
        each = []
        for place, digit in zip(faults, known, strict=True):
            branches = range(len(self._problem.latent_faults[place].chance))
            not_that = [b for b in branches if b not in bad[place]]
            each.append(list(branches) if digit == 0 else not_that if digit > len(branches) else [digit - 1])
        grid = np.meshgrid(*each, indexing="ij")
        return np.stack([axis.ravel() for axis in grid], axis=1).astype(np.intp)

    def survives(self, part: str, view: StateView, truth: Truth, rows: Ints) -> Bools:
        """Whether no damage has ruined a part, shape (row,); `TESTING` stands for the unit starting."""
        worst: dict[str, Floats] = {}
        for hurt in hurts(self._problem, part):
            if not restored(view, hurt)[0]:
                there = self._there(hurt.item, truth)
                suffered = np.where(there, hurt.harm.chance, 0.0)
                worst[hurt.harm.mechanism] = np.maximum(worst.get(hurt.harm.mechanism, 0.0), suffered)
        lives = np.ones(len(rows), dtype=bool)
        for mechanism, chance in worst.items():
            lives &= self._uniform(f"{part} {mechanism}")[rows] >= chance
        return lives

    def unhurt(self, place: int, view: StateView, rows: Ints) -> Bools:
        """Whether no failed repair has ruined a part, shape (row,)."""
        hurt: Bools = self._uniform(f"failures {place}")[rows] < view.salvage[0]
        return hurt

    def price(self, place: int, rows: Ints) -> Floats:
        """What a part fetches over its mean, shape (row,): log-normal."""
        spread = np.sqrt(np.log1p(self._problem.parts[place].spread ** 2))
        luck = self._drawn(f"price {place}", np.random.Generator.standard_normal)[rows]
        price: Floats = np.exp(spread * luck - spread**2 / 2.0)
        return price

    def _there(self, item: int, truth: Truth) -> Bools:
        """Whether damage is there, shape (row,)."""
        if item < 0 or self._problem.items[item].latent_fault < 0:
            return np.ones(truth.shape[1], dtype=bool)
        entry = self._problem.items[item]
        there: Bools = truth[entry.latent_fault] == entry.branch
        return there

    def _uniform(self, name: str) -> Floats:
        return self._drawn(name, np.random.Generator.random)

    def _drawn(self, name: str, kind: Callable[..., Floats]) -> Floats:
        return kind(np.random.default_rng([self._seed, crc32(name.encode())]), self._paths)
