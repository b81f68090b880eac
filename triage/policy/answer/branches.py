"""A solved plan as a path: the likely path, and the branches from its steps.

On the likely path each repair works and each look finds the more likely result.
A branch is another outcome of one of its steps. It is followed along its own
likely path until it joins the plan again, ends, or is too long. It joins the
plan where the policy is the same for every later outcome, not only for the next
act.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from triage.policy.answer.assessment import Branch, BranchEnd, PlanStep
from triage.policy.answer.steps import StepWriter
from triage.policy.solver.repair_plan import FINISH
from triage.policy.solver.state_space import Move, MoveKind

# Openings count as steps: further in, the result in hand makes a better plan than this one.
MOST_STEPS = 6


def likely_way(writer: StepWriter) -> tuple[PlanStep, ...]:
    """All steps in order, from settling ownership to the sale or return, with their branches."""
    states = list(_states(writer, 0))
    options = _options(writer, states)
    saved = writer.data_at_risk(states)
    if saved is not None and not writer.no_power_yet:  # else it is cleaned or inspected first
        saved = states[0]
    at_once = saved == states[0]
    before = tuple(writer.before(options, at_once))
    after = tuple(writer.after(states[-1], options))
    future = _Future(writer)
    acts: list[tuple[int | None, PlanStep]] = []
    meets: dict[int, int] = {}
    for state in states:
        meets[future(state)] = len(before) + len(acts) + 1
        if state == saved and not at_once:
            acts.append((None, writer.save_data()))
        if state != states[-1] and (step := writer.act(state)) is not None and future.decides(state):
            acts.append((state, step))
    follower = _Follower(writer, future, states, meets, saved)
    told = (
        step if state is None else replace(step, branches=follower.branches(state)) for state, step in acts
    )
    return (*before, *told, *after)


def _states(writer: StepWriter, state: int) -> Iterator[int]:
    """A state, and those that follow it while things go as is likely."""
    yield state
    while isinstance(writer.plan.act(state), Move):
        state = writer.likely_child(state)
        yield state


def _options(writer: StepWriter, states: list[int]) -> list[int]:
    """Options tried in these states, in order."""
    acts = (writer.plan.act(state) for state in states)
    return [act.subject for act in acts if isinstance(act, Move) and act.kind is MoveKind.REPAIR]


def likely_tries(writer: StepWriter) -> dict[int, int]:
    """By index of the option, the state of the likely way in which it is tried."""
    acts = {state: writer.plan.act(state) for state in _states(writer, 0)}
    return {
        act.subject: state
        for state, act in acts.items()
        if isinstance(act, Move) and act.kind is MoveKind.REPAIR
    }


@dataclass(frozen=True)
class _Future:
    """Numbers states: two have the same number where the policy does the same from there on."""

    writer: StepWriter
    numbers: dict[int, int] = field(default_factory=dict)
    known: dict[tuple[int, ...], int] = field(default_factory=dict)

    def __call__(self, state: int) -> int:
        if state not in self.numbers:
            key = self._key(state)
            self.numbers[state] = self.known.setdefault(key, len(self.known))
        return self.numbers[state]

    def decides(self, state: int) -> bool:
        """False for a look, other than at a battery, after which the same follows whatever it shows."""
        plan = self.writer.plan
        move = plan.act(state)
        if not isinstance(move, Move) or move.kind is not MoveKind.LOOK or self.writer.looks_at_battery(move):
            return True
        children, weight = plan.policy.next_state[state, : len(move.ends)], plan.plan_space.space.weight
        return len({self(int(child)) for child in children if weight[child] > 0}) > 1

    def _key(self, state: int) -> tuple[int, ...]:
        plan = self.writer.plan
        act, choice = plan.act(state), int(plan.policy.choice[state])
        if not isinstance(act, Move):
            return choice, int(plan.plan_space.space.states[state, 0] > 0)
        # An outcome that cannot be makes no difference; its own number would be chance.
        children, weight = plan.policy.next_state[state, : len(act.ends)], plan.plan_space.space.weight
        return choice, *(self(int(child)) if weight[child] > 0 else -1 for child in children)


@dataclass(frozen=True)
class _Follower:
    """Follows the branches of one plan.

    states : those of the likely way.
    meets : number of the step, from 1, of each future that the likely way has.
    saved : state by which the likely way has saved the data; None where it does not.
    """

    writer: StepWriter
    future: _Future
    states: list[int]
    meets: dict[int, int]
    saved: int | None

    def branches(self, state: int) -> tuple[Branch, ...]:
        """The other ways that the act of a state of the likely way can turn out, the likelier first."""
        plan = self.writer.plan
        move = plan.act(state)
        assert isinstance(move, Move)
        weight, likely = plan.plan_space.space.weight, self.writer.likely_child(state)
        together: dict[tuple[bool, int], list[int]] = {}
        for end, child in enumerate(map(int, plan.policy.next_state[state, : len(move.ends)])):
            if child != likely and weight[child] > 0:
                nothing_found = end == len(move.ends) - 1 and move.kind is not MoveKind.TRACE
                together.setdefault((nothing_found, self.future(child)), []).append(end)
        found = [self._branch(state, move, ends) for ends in together.values()]
        # Equal chances differ by rounding from machine to machine: they stay in the order of the ends.
        return tuple(sorted(found, key=lambda branch: -round(branch.chance, 9)))

    def _branch(self, state: int, move: Move, ends: list[int]) -> Branch:
        """What follows from some ends of a move, from all of which the same follows."""
        plan = self.writer.plan
        children, weight = plan.policy.next_state[state], plan.plan_space.space.weight
        chance = float(weight[children[ends]].sum() / weight[state])
        found: bool | None = None
        causes: tuple[str | None, ...] = ()
        if move.kind in (MoveKind.LOOK, MoveKind.FINAL_TEST, MoveKind.CHECK):
            found = ends[-1] < len(move.ends) - 1
        if move.kind is MoveKind.TRACE or (found and move.kind is not MoveKind.CHECK and len(move.ends) > 2):
            causes = tuple(self.writer.cause(move, end) for end in ends)
        return self._followed(state, int(children[ends[0]]), Branch(chance, BranchEnd.UNTOLD, found, causes))

    def _followed(self, fork: int, begin: int, branch: Branch) -> Branch:
        """The branch with its steps, from the state in which it begins."""
        steps: list[PlanStep] = []
        passed: list[int] = []
        place = self.states.index
        safe = self.saved is not None and place(self.saved) <= place(fork)
        risk = None if safe else self.writer.data_at_risk(list(_states(self.writer, begin)))
        for state in _states(self.writer, begin):
            if (number := self.meets.get(self.future(state))) is not None:
                return replace(branch, steps=tuple(steps), end=BranchEnd.REJOIN, rejoins=number)
            act = self.writer.plan.act(state)
            if not isinstance(act, Move):
                done = _options(self.writer, [*self.states[: self.states.index(fork)], *passed])
                ending = tuple(self.writer.after(state, done))
                end = BranchEnd.FINISH if act is FINISH else BranchEnd.STOP
                return replace(branch, steps=tuple(steps), end=end, ending=ending)
            if len(steps) == MOST_STEPS:
                break
            if state == risk:
                steps.append(self.writer.save_data())
            passed.append(state)
            if (step := self.writer.act(state)) is not None and self.future.decides(state):
                steps.append(step)
        return replace(branch, steps=tuple(steps))
