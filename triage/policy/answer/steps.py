"""A solved plan written out as steps a technician can follow.

The steps follow the path where each repair works and each look finds the more
likely thing; what happens otherwise stands beside the step.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from triage.domain.catalogue import ACCESS_LEVELS, BenchStep, Catalogue, Caution
from triage.domain.counts import in_twenty
from triage.domain.units.unit import Unit
from triage.policy.answer.assessment import PlanStep
from triage.policy.problem.build import PlanInputs
from triage.policy.problem.normalise import cell_hazard, cell_suspect, wet
from triage.policy.problem.problem import Item
from triage.policy.solver.repair_plan import FINISH, STOP, RepairPlan
from triage.policy.solver.state_space import EndingKind, Move, MoveKind

ACCESS_STEPS = ("open", "board-out", "shields-off")


@dataclass(frozen=True)
class StepWriter:
    """Writes the steps of one unit's plan."""

    unit: Unit
    catalogue: Catalogue
    inputs: PlanInputs
    plan: RepairPlan
    owned: bool

    def steps(self) -> tuple[PlanStep, ...]:
        """All steps in order, from settling ownership to the sale or return."""
        path = list(self._main_path())
        finishes = self.plan.act(path[-1]) is FINISH
        return (*self._before(path), *self._work(path), *self._after(path, finishes))

    # -- the path -----------------------------------------------------------
    def _main_path(self) -> Iterator[int]:
        """States passed when repairs work and looks find the more likely thing."""
        state = 0
        yield state
        while self.plan.policy.choice[state] < len(self._moves):
            state = self._child(state)
            yield state

    def _child(self, state: int) -> int:
        move = self._moves[self.plan.policy.choice[state]]
        children = self.plan.policy.next_state[state, : len(move.ends)]
        if move.kind is MoveKind.REPAIR:
            return int(children[0])
        return int(children[np.argmax(self.plan.plan_space.space.weight[children])])

    @property
    def _moves(self) -> tuple[Move, ...]:
        return self.plan.plan_space.space.moves

    def _made(self, path: list[int]) -> list[Move]:
        """The moves of the path, in order."""
        return [self._moves[self.plan.policy.choice[state]] for state in path[:-1]]

    def _options(self, path: list[int]) -> list[int]:
        """Options tried on the path, in order."""
        return [move.subject for move in self._made(path) if move.kind is MoveKind.REPAIR]

    # -- shared steps -------------------------------------------------------
    def _shared(self, slug: str, minutes: float = 0.0, text: str = "", **more) -> PlanStep:
        step = self.catalogue.steps.get(slug, BenchStep(slug, slug.replace("-", " ")))
        unit, catalogue = self.unit, self.catalogue
        slugs = [*step.cautions]
        if cell_hazard(unit, catalogue):
            slugs += step.if_hazard
        elif cell_suspect(unit, catalogue):
            slugs += step.if_suspect
        if wet(unit, catalogue):
            slugs += step.if_wet
        if any("glass-splinters" in catalogue.kinds[f.kind].cautions for f in unit.findings):
            slugs += step.if_glass
        return PlanStep(slug, text or step.name, minutes, cautions=self._cautions(slugs), **more)

    def _cautions(self, slugs) -> tuple[Caution, ...]:
        known = self.catalogue.cautions
        return tuple(known[slug] for slug in dict.fromkeys(slugs) if slug in known)

    def _before(self, path: list[int]) -> Iterator[PlanStep]:
        """Make-safe comes first of all; then ownership, data, parts."""
        if cell_hazard(self.unit, self.catalogue):
            yield self._shared("make-safe", self.inputs.entry_minutes)
        yield self._shared("ownership")
        options = self._options(path)
        repairs = [self.inputs.repairs[o] for o in options]
        if self.unit.data_wanted and any(repair.board_heat for repair in repairs):
            yield self._shared("save-data")
        awaited = {line.part: line for o in options for line in self.inputs.parts[o] if not line.on_hand}
        if awaited and any(repair.irreversible for repair in repairs):
            yield self._shared("parts-in-hand", parts=tuple(awaited.values()))

    def _work(self, path: list[int]) -> Iterator[PlanStep]:
        for state, move in zip(path[:-1], self._made(path), strict=True):
            if move.kind is MoveKind.REPAIR:
                yield self._repair(state, move)
            elif move.kind is MoveKind.OPEN:
                yield self._shared(ACCESS_STEPS[move.subject], move.minutes[0])
            elif move.kind is MoveKind.CHECK:
                yield self._check(state, move)
            else:
                yield self._finding_out(state, move)

    def _repair(self, state: int, move: Move) -> PlanStep:
        option = move.subject
        repair, parts = self.inputs.repairs[option], self.inputs.parts[option]
        space, policy = self.plan.plan_space.space, self.plan.policy
        fixed, failed = policy.next_state[state, :2]
        kinds = [self.inputs.problem.items[i].key for i in self.inputs.problem.options[option].closes]
        slugs = [*repair.cautions]
        for kind in kinds:
            slugs += self.catalogue.kinds[kind].cautions
        moved = [self.catalogue.parts[part].name for part in repair.moves if part in self.catalogue.parts]
        text = repair.name + (f"; carry over: {', '.join(moved)}" if moved else "")
        words, stops = self._when_failed(int(failed), option)
        return PlanStep(
            "repair",
            text,
            move.minutes[0],
            float(space.weight[fixed] / space.weight[state]) if space.weight[state] > 0 else 0.0,
            words,
            stops,
            parts,
            self._cautions(slugs),
            tuple(self.catalogue.verifications[slug] for slug in repair.verify),
        )

    def _deed(self, state: int) -> Move | EndingKind:
        """The next repair or ending after a state: opening, looks and checks are passed over."""
        while isinstance(act := self.plan.act(state), Move) and act.kind is not MoveKind.REPAIR:
            state = self._child(state)
        return act

    def _when_failed(self, state: int, option: int) -> tuple[str, bool]:
        """What follows when a repair has failed, and whether that is the end."""
        deed = self._deed(state)
        if deed is STOP:
            return self._stop_words(), True
        if not isinstance(deed, Move):
            spoken = "finish it at a lower grade" if self.owned else "finish it; that function is not charged"
            return spoken, False
        options, following = self.inputs.problem.options, deed.subject
        if self.plan.act(state) is deed or set(options[following].closes) & set(options[option].closes):
            return f"then {_lower(self.inputs.repairs[following].name)}", False
        return "go on; it counts as a lower grade" if self.owned else "go on without it", False

    def _stop_words(self) -> str:
        return "stop and strip it for parts" if self.owned else "stop, put it together and return it"

    def _finding_out(self, state: int, move: Move) -> PlanStep:
        """A look, a trace or the final test: what is likely, and what else then."""
        problem = self.inputs.problem
        latent_fault = problem.latent_faults[move.subject]
        children = self.plan.policy.next_state[state, : len(move.ends)]
        weight = self.plan.plan_space.space.weight
        shares = weight[children] / weight[state] if weight[state] > 0 else np.zeros(len(children))
        by_branch = {item.branch: item for item in problem.items if item.latent_fault == move.subject}
        if move.kind is MoveKind.TRACE:
            symptom = self.catalogue.symptoms[latent_fault.key]
            ranked = sorted(((s, b) for b, s in enumerate(shares)), reverse=True)
            likely = ", ".join(
                f"{self._kind_name(by_branch[b])} {in_twenty(s)}" for s, b in ranked[:3] if b in by_branch
            )
            found = self._kind_name(by_branch[int(np.argmax(shares))])
            step = self._shared(
                "trace",
                move.minutes[0],
                f"Trace the cause of {symptom.name}: {likely}. The steps below are for {found}",
            )
            stops = any(self._deed(int(child)) is STOP for child in children)
            return replace(step, if_not="another cause: " + self._fork(children, by_branch), stop_point=stops)
        kind = self.catalogue.kinds[latent_fault.key]
        hazard = kind.battery == "hazard"
        present = float(shares[0])
        where = "At the final test" if move.kind is MoveKind.FINAL_TEST else "Look"
        step = self._shared("cell-look" if hazard else "look", 0.0, f"{where}: {kind.name}?")
        words = f"if so ({in_twenty(present)}): {self._deed_words(int(children[0]))}"
        return replace(
            step,
            if_not=words,
            stop_point=self._deed(int(children[0])) is STOP,
            chance=1.0 - present,
            cautions=self._cautions([c.slug for c in step.cautions] + list(kind.cautions if hazard else ())),
        )

    def _check(self, state: int, move: Move) -> PlanStep:
        """A check that the plan makes on the way, written for its likelier reading."""
        problem = self.inputs.problem
        check = self.catalogue.checks[problem.checks[move.subject].key]
        children = self.plan.policy.next_state[state, :2]
        shares = self.plan.plan_space.space.weight[children]
        likely = int(np.argmax(shares))
        other = int(children[1 - likely])
        needs = self.catalogue.parts[check.needs_part].name if check.needs_part else ""
        name = f"{check.name} (needs a known-good {needs})" if needs else check.name
        step = self._shared("check", move.minutes[0], f"{name}: likely {check.result_words[likely]}")
        count = in_twenty(float(shares[1 - likely] / shares.sum()))
        return replace(
            step,
            if_not=f"if {check.result_words[1 - likely]} ({count}): {self._deed_words(other)}",
            stop_point=self._deed(other) is STOP,
            cautions=self._cautions(check.cautions),
        )

    def _fork(self, children: np.ndarray, by_branch: dict[int, Item]) -> str:
        """Which causes mean going on and which mean stopping."""
        stopping = [
            self._kind_name(by_branch[b])
            for b, child in enumerate(children)
            if self._deed(int(child)) is STOP and b in by_branch
        ]
        if not stopping:
            return "repair that instead"
        return f"repair that instead, but {self._stop_words()} for {', '.join(stopping)}"

    def _deed_words(self, state: int) -> str:
        deed = self._deed(state)
        if deed is STOP:
            return self._stop_words()
        return _lower(self.inputs.repairs[deed.subject].name) if isinstance(deed, Move) else "go on"

    def _kind_name(self, item: Item) -> str:
        return "no cause found" if item.unexplained else self.catalogue.kinds[item.key].name

    def _after(self, path: list[int], finishes: bool) -> Iterator[PlanStep]:
        problem, minutes = self.inputs.problem, self.inputs.problem
        opened = self.plan.plan_space.space.states[path[-1], 0] > 0
        if not finishes:
            slug = "strip" if self.owned else "return-unfixed"
            yield self._shared(slug, problem.stop_minutes[int(opened)])
            return
        repairs = [self.inputs.repairs[o] for o in self._options(path)]
        lines = dict.fromkeys(slug for repair in repairs for slug in repair.verify)
        known = [self.catalogue.verifications[slug] for slug in lines]
        if opened:
            yield self._shared("dry-fit", verify=tuple(known))
            yield self._shared("close")
            yield self._shared("seal", minutes.finish_minutes[1] - minutes.finish_minutes[0])
            again = tuple(line for line in self.catalogue.verification if line.after_sealing)
            yield self._shared("repeat-checks", verify=again)
        yield self._shared("verify", problem.finish_minutes[0], verify=tuple(known))
        yield self._shared("sell" if self.owned else "hand-back")


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]


def access_words(level: int) -> str:
    """An access level as the bench says it."""
    return ACCESS_LEVELS[level].replace("-", " ")
