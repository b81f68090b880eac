"""Each act of a solved plan as a step that a technician can follow; `reports.wording.plan` puts it in words.

Which acts make up the likely way, and what branches off it, is in `branches`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import BenchStep, Caution
from triage.domain.units.unit import Unit
from triage.policy.answer.assessment import Cause, Otherwise, PlanStep, StepKind, Then
from triage.policy.problem.build import PlanInputs
from triage.policy.problem.normalise import cell_hazard, cell_suspect, wet
from triage.policy.solver.repair_plan import FINISH, STOP, RepairPlan
from triage.policy.solver.state_space import EndingKind, Move, MoveKind

ACCESS_STEPS: tuple[StepKind, ...] = ("open", "board-out", "shields-off")
_BATTERY_STEPS: dict[MoveKind, StepKind] = {
    MoveKind.BATTERY_LOOK: "battery-look",
    MoveKind.MAKE_SAFE: "make-safe",
    MoveKind.TAKE_OUT: "battery-out",
}
_MOST_CAUSES = 3


@dataclass(frozen=True)
class StepWriter:
    """Writes the steps of one unit's plan."""

    unit: Unit
    catalogue: Catalogue
    inputs: PlanInputs
    plan: RepairPlan
    owned: bool

    def isolated(self) -> tuple[PlanStep, ...]:
        """The only step for a battery that is reacting."""
        return (self._shared("isolate"),)

    def likely_child(self, state: int) -> int:
        """Where the act of a state leads when a repair works and a look finds the more likely thing."""
        move = self.moves[self.plan.policy.choice[state]]
        children = self.plan.policy.next_state[state, : len(move.ends)]
        if move.kind is MoveKind.REPAIR:
            return int(children[0])
        return int(children[np.argmax(self.plan.plan_space.space.weight[children])])

    @property
    def moves(self) -> tuple[Move, ...]:
        """Every act that some plan of this unit can make."""
        return self.plan.plan_space.space.moves

    # -- shared steps -------------------------------------------------------
    def _shared(self, kind: StepKind, minutes: float = 0.0, **more: Any) -> PlanStep:
        step = self.catalogue.steps.get(kind, BenchStep(kind, kind))
        unit, catalogue = self.unit, self.catalogue
        slugs = [*step.cautions]
        if cell_hazard(unit, catalogue):
            slugs += step.if_hazard
        elif cell_suspect(unit, catalogue):
            slugs += step.if_suspect
        if wet(unit, catalogue):
            slugs += step.if_wet
        if any("glass-splinters" in catalogue.kinds[kind].cautions for kind in unit.kinds):
            slugs += step.if_glass
        return PlanStep(kind, minutes=minutes, cautions=self._cautions(slugs), **more)

    def _cautions(self, slugs: Iterable[str]) -> tuple[Caution, ...]:
        known = self.catalogue.cautions
        return tuple(known[slug] for slug in dict.fromkeys(slugs) if slug in known)

    def before(self, options: list[int], save_data: bool) -> Iterator[PlanStep]:
        """What comes before the acts: make-safe first of all; then ownership, data, parts.

        Parameters
        ----------
        options : those tried on the likely way.
        save_data : whether the data are saved here already.
        """
        if cell_hazard(self.unit, self.catalogue):
            yield self._shared("make-safe", self.inputs.entry_minutes)
        yield self._shared("ownership")
        repairs = [self.inputs.repairs[o] for o in options]
        if save_data:
            yield self.save_data()
        awaited = {line.part: line for o in options for line in self.inputs.parts[o] if not line.on_hand}
        if awaited and any(repair.irreversible for repair in repairs):
            yield self._shared("parts-in-hand", parts=tuple(awaited.values()))

    @property
    def no_power_yet(self) -> bool:
        """Whether the device must not be powered as it comes: it is wet, or its battery suspect."""
        return wet(self.unit, self.catalogue) or cell_suspect(self.unit, self.catalogue)

    def save_data(self) -> PlanStep:
        """The step that saves the data."""
        return self._shared("save-data")

    def data_at_risk(self, states: list[int]) -> int | None:
        """The state by which wanted data must be saved; None where no act of these states heats the board.

        That is the heat, or the taking out of the battery before it.
        """
        moves = {state: move for state in states if isinstance(move := self.plan.act(state), Move)}
        heat = [
            state for state, move in moves.items()
            if move.kind is MoveKind.REPAIR and self.inputs.repairs[move.subject].board_heat
        ]  # fmt: skip
        if not self.unit.data_wanted or not heat:
            return None
        out = (state for state, move in moves.items() if move.kind is MoveKind.TAKE_OUT)
        return min(heat[0], next(out, heat[0]), key=states.index)

    def act(self, state: int) -> PlanStep | None:
        """The act of a state; None where a step before has said it."""
        move = self.moves[self.plan.policy.choice[state]]
        if move.kind is MoveKind.REPAIR:
            return self._repair(state, move)
        if move.kind is MoveKind.OPEN:
            damp = move.subject == 0 and wet(self.unit, self.catalogue)
            return self._shared(ACCESS_STEPS[move.subject], move.minutes[0], subject="wet" if damp else "")
        if move.kind is MoveKind.CHECK:
            return self._check(state, move)
        if move.kind is MoveKind.TRACE:
            return self._trace(state, move)
        if move.kind in _BATTERY_STEPS:
            # A battery that is bad from the start is made safe before all else: said there.
            if move.kind is MoveKind.MAKE_SAFE and self.inputs.entry_minutes:
                return None
            return self._shared(_BATTERY_STEPS[move.kind], move.minutes[0])
        return self._look(state, move)

    def _repair(self, state: int, move: Move) -> PlanStep:
        option = move.subject
        repair, parts = self.inputs.repairs[option], self.inputs.parts[option]
        policy = self.plan.policy
        failed = policy.next_state[state, 1]
        kinds = [self.inputs.problem.items[i].key for i in self.inputs.problem.options[option].closes]
        kinds += [lesser for kind, lesser in self.unit.covered if kind in kinds]
        slugs = [*repair.cautions, *(slug for kind in kinds for slug in self.catalogue.kinds[kind].cautions)]
        otherwise = self._when_failed(int(failed), option)
        return PlanStep(
            "repair",
            repair.slug,
            move.minutes[0],
            self.chance(state),
            otherwise,
            otherwise.then is Then.STOP,
            parts,
            self._cautions(slugs),
            tuple(self.catalogue.verifications[slug] for slug in repair.verify),
            moves=tuple(part for part in repair.moves if part not in self._damaged(state)),
        )

    def chance(self, state: int) -> float:
        """Chance that the repair of a state works there."""
        weight = self.plan.plan_space.space.weight
        fixed = self.plan.policy.next_state[state, 0]
        return float(weight[fixed] / weight[state]) if weight[state] > 0 else 0.0

    def _damaged(self, state: int) -> set[str]:
        """Parts that are known to be damaged in a state."""
        items, open_ = self.inputs.problem.items, self.plan.plan_space.view.open[state]
        kinds = {finding.kind for finding in self.unit.findings if finding.seen} - {
            item.key for item in items
        }
        return self.catalogue.parts_hit(kinds | {items[i].key for i in np.flatnonzero(open_)})

    def _deed(self, state: int) -> Move | EndingKind:
        """The next repair or ending after a state: opening, looks and checks are passed over."""
        while isinstance(act := self.plan.act(state), Move) and act.kind is not MoveKind.REPAIR:
            state = self.likely_child(state)
        return act

    def _when_failed(self, state: int, option: int) -> Otherwise:
        """What follows when a repair has failed; another repair is named where it follows at once."""
        otherwise = self._otherwise(state)
        deed = self._deed(state)
        if isinstance(deed, Move):
            options = self.inputs.problem.options
            tied = set(options[deed.subject].closes) & set(options[option].closes)
            if self.plan.act(state) is not deed and not tied:
                return Otherwise(Then.GO_ON)
        return otherwise

    def _otherwise(self, state: int, chance: float | None = None) -> Otherwise:
        """What follows from a state."""
        deed = self._deed(state)
        if isinstance(deed, Move):
            return Otherwise(Then.REPAIR, self.inputs.repairs[deed.subject].slug, chance)
        return Otherwise(Then.STOP if deed is STOP else Then.FINISH, chance=chance)

    def _look(self, state: int, move: Move) -> PlanStep:
        """A look, or the final test: written for finding nothing."""
        kind = self.catalogue.kinds[self._looked_for(move)]
        children, shares = self._shares(state, move)
        hazard, present = kind.battery == "hazard", float(shares[:-1].sum())
        step = self._shared("cell-look" if hazard else "look")
        otherwise = self._otherwise(int(children[0]), present)
        return replace(
            step,
            subject=kind.slug,
            otherwise=otherwise,
            stop_point=otherwise.then is Then.STOP,
            chance=1.0 - present,
            cautions=self._cautions([c.slug for c in step.cautions] + list(kind.cautions if hazard else ())),
            final_test=move.kind is MoveKind.FINAL_TEST,
            found=int(np.argmax(shares)) < len(shares) - 1,
        )

    def looks_at_battery(self, move: Move) -> bool:
        """Whether a look is for damage that makes the battery a hazard."""
        return self.catalogue.kinds[self._looked_for(move)].battery == "hazard"

    def _looked_for(self, move: Move) -> str:
        """The damage a look may show; of a symptom, the bad cell that the look at the battery rules out."""
        problem = self.inputs.problem
        return next(
            item.key
            for item in problem.items
            if item.latent_fault == move.subject and item.branch == move.ends[0] - 1
        )

    def _trace(self, state: int, move: Move) -> PlanStep:
        """A symptom traced to its cause: written for the likeliest one."""
        problem = self.inputs.problem
        children, shares = self._shares(state, move)
        kinds = self._causes(move)
        branches = [end - 1 for end in move.ends]
        ranked = sorted(zip(map(float, shares), branches, strict=True), reverse=True)
        stops = [b for b, child in zip(branches, children, strict=True) if self._deed(int(child)) is STOP]
        stops_for = tuple(kinds[branch] for branch in stops if branch in kinds)
        return replace(
            self._shared("trace", move.minutes[0]),
            subject=problem.latent_faults[move.subject].key,
            otherwise=Otherwise(Then.REPAIR_CAUSE, stops_for=stops_for),
            stop_point=bool(stops),
            cause=kinds[branches[int(np.argmax(shares))]],
            causes=tuple(Cause(kinds[b], share) for share, b in ranked[:_MOST_CAUSES] if b in kinds),
        )

    def _causes(self, move: Move) -> dict[int, str | None]:
        """Damage kind of each branch of what a move is about; None is no cause found."""
        return {
            item.branch: None if item.unexplained else item.key
            for item in self.inputs.problem.items
            if item.latent_fault == move.subject
        }

    def cause(self, move: Move, end: int) -> str | None:
        """What one end of a trace or a look finds: a damage kind, or None for no cause."""
        return self._causes(move).get(move.ends[end] - 1)

    def _check(self, state: int, move: Move) -> PlanStep:
        """A check that the plan makes on the way, written for its likelier reading."""
        check = self.catalogue.checks[self.inputs.problem.checks[move.subject].key]
        children, shares = self._shares(state, move)
        likely = int(np.argmax(shares))
        otherwise = self._otherwise(int(children[1 - likely]), float(shares[1 - likely] / shares.sum()))
        return replace(
            self._shared("check", move.minutes[0]),
            subject=check.slug,
            otherwise=otherwise,
            stop_point=otherwise.then is Then.STOP,
            cautions=self._cautions(check.cautions),
            found=likely == 0,
        )

    def _shares(self, state: int, move: Move) -> tuple[np.ndarray, np.ndarray]:
        """Where a move leads, and the chance of each of its ends."""
        children = self.plan.policy.next_state[state, : len(move.ends)]
        weight = self.plan.plan_space.space.weight
        return children, weight[children] / weight[state] if weight[state] > 0 else np.zeros(len(children))

    def after(self, state: int, options: list[int]) -> Iterator[PlanStep]:
        """What comes after the acts, where the plan ends.

        Parameters
        ----------
        options : those that worked.
        """
        problem = self.inputs.problem
        opened = self.plan.plan_space.space.states[state, 0] > 0
        if self.plan.act(state) is not FINISH:
            yield self._shared(
                "strip" if self.owned else "return-unfixed", float(self.plan.stopping.minutes[state, 0])
            )
            return
        lines = dict.fromkeys(slug for o in options for slug in self.inputs.repairs[o].verify)
        lines |= {
            line.slug: None for line in self.catalogue.verification if opened and line.always == "opened"
        }
        known = [self.catalogue.verifications[slug] for slug in lines]
        if opened:
            yield self._shared("dry-fit", verify=tuple(known))
            yield self._shared("close")
            yield self._shared("seal", problem.finish_minutes[1] - problem.finish_minutes[0])
            again = tuple(line for line in self.catalogue.verification if line.after_sealing)
            yield self._shared("repeat-checks", verify=again)
        yield self._shared("verify", problem.finish_minutes[0], verify=tuple(known))
        yield self._shared("sell" if self.owned else "hand-back")
