"""A finite decision problem, solved exactly: which check next, or which act.

States have prior chances; acts have a payoff in each state; checks cost money
and give a result whose chances depend on the state. Backward induction over
what has been seen gives the best policy, what it is worth, and what each piece
of knowledge is worth.

References
----------
Raiffa, H. 1968, *Decision Analysis*; Raiffa, H. and Schlaifer, R. 1961,
*Applied Statistical Decision Theory* (expected value of perfect and of sample
information). Pauker, S. and Kassirer, J. 1980, NEJM 302:1109 (testing and
treatment thresholds).

Examples
--------
The oil wildcatter, in five lines::

    test = Check("seismic", 10, {"none": (.6, .3, .1), "open": (.3, .4, .4), "closed": (.1, .3, .5)})
    problem = DecisionProblem(("dry", "wet", "soaking"), (.5, .3, .2),
                              {"drill": (-70, 50, 200), "leave": (0, 0, 0)}, (test,))
    answer = solve(problem)
    print(answer.value, answer.perfect_information, answer.checks[0].sample_information)
    print(answer.policy.text())
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from triage.arrays import Floats

# How often each result of each check was seen.
Seen = tuple[tuple[int, ...], ...]
_SUM_TOLERANCE = 1e-9


@dataclass(frozen=True)
class Experiment:
    """A check that can be made before acting.

    name : unique among the checks.
    cost : money, paid each time.
    likelihood : by result, its chance in each state; over results they sum to 1.
    times : how often it may be made; results are independent given the state.
        A check that repeats its own error is worth making once: leave it at 1.
    excludes : names of checks that cannot be made once this one was.
    needs : names of checks that must have been made before this one.
    """

    name: str
    cost: float
    likelihood: Mapping[str, Sequence[float]]
    times: int = 1
    excludes: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()

    @cached_property
    def results(self) -> tuple[str, ...]:
        """Results in the order given."""
        return tuple(self.likelihood)

    @cached_property
    def table(self) -> np.ndarray:
        """Likelihood, shape (result, state)."""
        return np.array([self.likelihood[result] for result in self.results], dtype=float)


@dataclass(frozen=True)
class DecisionProblem:
    """States, prior chances, acts and checks.

    prior : chance of each state, sums to 1.
    acts : by name, payoff in each state, money (or any utility).

    Raises
    ------
    ValueError : shapes that do not agree, chances that do not sum to 1,
        repeated or unknown names.
    """

    states: tuple[str, ...]
    prior: Sequence[float]
    acts: Mapping[str, Sequence[float]]
    checks: tuple[Experiment, ...] = ()

    def __post_init__(self) -> None:
        """Refuse a problem that contradicts itself."""
        count = len(self.states)
        wrong = []
        if len(self.prior) != count or abs(sum(self.prior) - 1.0) > _SUM_TOLERANCE or min(self.prior) < 0:
            wrong.append(f"prior: {count} chances that sum to 1 are needed")
        if not self.acts:
            wrong.append("acts: at least one is needed")
        wrong += [f"act {a}: {count} payoffs are needed" for a, p in self.acts.items() if len(p) != count]
        names = [check.name for check in self.checks]
        if len(set(names)) < len(names):
            wrong.append("checks: each needs a name of its own")
        for check in self.checks:
            if any(len(chances) != count for chances in check.likelihood.values()):
                wrong.append(f"check {check.name}: {count} chances a result are needed")
            elif np.abs(check.table.sum(axis=0) - 1.0).max() > _SUM_TOLERANCE or check.table.min() < 0:
                wrong.append(f"check {check.name}: chances must sum to 1 over results in each state")
            wrong += [
                f"check {check.name}: no check is named {other}"
                for other in (*check.excludes, *check.needs)
                if other not in names
            ]
        if wrong:
            raise ValueError("; ".join(wrong))

    @cached_property
    def payoffs(self) -> np.ndarray:
        """Payoffs, shape (act, state)."""
        return np.array([self.acts[act] for act in self.acts], dtype=float)


@dataclass(frozen=True)
class Node:
    """One point of the policy: what to do, and what follows each result.

    chance : chance of coming here from the node above.
    value : expected money from here on.
    do : name of an act, or of a check (then `then` has a node a result).
    """

    do: str
    chance: float
    value: float
    then: Mapping[str, Node]

    def text(self, indent: str = "") -> str:
        """The policy in words, one line a point."""
        if not self.then:
            return f"{indent}{self.do} ({self.value:.4g})"
        lines = [f"{indent}check {self.do} ({self.value:.4g})"]
        for result, node in self.then.items():
            lines += [f"{indent}  {result}, {node.chance:.3f}:", node.text(indent + "    ")]
        return "\n".join(lines)


@dataclass(frozen=True)
class CheckValue:
    """What one check is worth when made alone, before acting.

    sample_information : expected gain in payoff, before its cost (EVSI).
    net : after its cost.
    """

    name: str
    sample_information: float
    net: float


@dataclass(frozen=True)
class Solution:
    """A solved decision problem.

    value : expected money of the best policy, checks paid for.
    without_checks : expected money of the best act at once, and that act.
    perfect_information : what knowing the state would add to that (EVPI).
    """

    value: float
    without_checks: float
    act_now: str
    perfect_information: float
    checks: tuple[CheckValue, ...]
    policy: Node


def posterior(prior: Sequence[float], likelihood: Sequence[float]) -> Floats:
    """Bayes' rule: chances of the states after a result, shape (state,)."""
    joint = np.asarray(prior, dtype=float) * np.asarray(likelihood, dtype=float)
    chances: Floats = joint / joint.sum()
    return chances


def solve(problem: DecisionProblem) -> Solution:
    """Solve by exact backward induction over every sequence of checks and results."""
    prior = np.asarray(problem.prior, dtype=float)
    solver = _Solver(problem)
    policy = solver.node(prior, solver.nothing_seen, 1.0)
    now = problem.payoffs @ prior
    base = float(now.max())
    perfect = float(prior @ problem.payoffs.max(axis=0)) - base
    checks = []
    for check in problem.checks:
        informed = (problem.payoffs @ (check.table * prior).T).max(axis=0).sum()
        gain = float(informed) - base
        checks.append(CheckValue(check.name, gain, gain - check.cost))
    act_now = list(problem.acts)[int(now.argmax())]
    return Solution(policy.value, base, act_now, perfect, tuple(checks), policy)


class _Solver:
    """Backward induction over how often each result of each check was seen.

    Chances are kept as joint weights (prior x likelihood), so a check's value
    is a plain sum over its results. Order of results does not matter given the
    state, so counts are all that need remembering.
    """

    def __init__(self, problem: DecisionProblem):
        self.problem = problem
        self.acts = list(problem.acts)
        self.nothing_seen = tuple((0,) * len(check.results) for check in problem.checks)
        self.memo: dict[Seen, tuple[float, int]] = {}

    def best(self, weight: np.ndarray, seen: Seen) -> tuple[float, int]:
        """Best value times weight, and what attains it: an act, or len(acts) + a check."""
        if seen in self.memo:
            return self.memo[seen]
        payoff = self.problem.payoffs @ weight
        value, choice = float(payoff.max()), int(payoff.argmax())
        for index, check in enumerate(self.problem.checks):
            if not self._may(index, seen):
                continue
            worth = -check.cost * float(weight.sum())
            for result in range(len(check.results)):
                worth += self.best(weight * check.table[result], _with(seen, index, result))[0]
            if worth > value + 1e-12 * max(1.0, abs(value)):
                value, choice = worth, len(self.acts) + index
        self.memo[seen] = value, choice
        return value, choice

    def node(self, weight: np.ndarray, seen: Seen, chance: float) -> Node:
        """The best policy from here on, as a tree; results of no chance are left out."""
        value, choice = self.best(weight, seen)
        total = float(weight.sum())
        if choice < len(self.acts):
            return Node(self.acts[choice], chance, value / total, {})
        index = choice - len(self.acts)
        check, then = self.problem.checks[index], {}
        for result, name in enumerate(check.results):
            joint = weight * check.table[result]
            if joint.sum() > 0:
                then[name] = self.node(joint, _with(seen, index, result), float(joint.sum()) / total)
        return Node(check.name, chance, value / total, then)

    def _may(self, index: int, seen: Seen) -> bool:
        check, checks = self.problem.checks[index], self.problem.checks
        made = {other.name for other, counts in zip(checks, seen, strict=True) if sum(counts)}
        blocked = any(check.name in other.excludes for other in checks if other.name in made)
        return sum(seen[index]) < check.times and not blocked and set(check.needs) <= made


def _with(seen: Seen, index: int, result: int) -> Seen:
    counts = list(seen[index])
    counts[result] += 1
    return (*seen[:index], tuple(counts), *seen[index + 1 :])
