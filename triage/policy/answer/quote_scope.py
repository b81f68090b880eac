"""The scope of a quote: which damage is repaired, how, with which parts, and which faults may be found."""

from __future__ import annotations

from dataclasses import dataclass

from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import DamageKind, Part, Repair
from triage.domain.units.unit import Finding, Unit
from triage.policy.answer.quote import FittedPart, WorkLine
from triage.policy.problem.build import PlanInputs, with_problem
from triage.policy.problem.normalise import unexplained_symptoms
from triage.policy.problem.options import PartLine
from triage.policy.problem.subproblem import keep
from triage.policy.solver.repair_plan import STOP, RepairPlan
from triage.policy.solver.state_space import MoveKind

# A hidden fault likelier than this is named to the owner.
_WORTH_NAMING = 0.02
_LEFT = "Left unrepaired: not part of this quote."


def passed_over(inputs: PlanInputs, plan: RepairPlan, unit: Unit) -> set[str]:
    """Kinds found on the unit that the plan would leave as they are: optional, and no repair pays."""
    if plan.act(0) == STOP:
        return set()
    made = _made(plan)
    problem = inputs.problem
    closed = {i for index, option in enumerate(problem.options) if made[index] for i in option.closes}
    found = {finding.kind for finding in unit.findings}
    return {
        item.key
        for index, item in enumerate(problem.items)
        if item.key in found and not item.required and index not in closed
    }


def without_kinds(inputs: PlanInputs, kinds: set[str]) -> PlanInputs:
    """The same device without the damage of some kinds, which the quote does not cover."""
    if not kinds:
        return inputs
    problem = inputs.problem
    items = [i for i, item in enumerate(problem.items) if item.key not in kinds]
    options = [o for o, option in enumerate(problem.options) if set(option.closes) & set(items)]
    latent_faults = {problem.items[i].latent_fault for i in items}
    kept = [m for m in range(len(problem.latent_faults)) if m in latent_faults]
    return with_problem(inputs, keep(problem, items, options, kept), options)


@dataclass(frozen=True)
class Scope:
    """The work of one quote, read from the plan that would be followed.

    inputs : of the work quoted, after `without_kinds` or `data_inputs`.
    """

    unit: Unit
    catalogue: Catalogue
    inputs: PlanInputs
    plan: RepairPlan

    @property
    def _named(self) -> set[str]:
        return {item.key for item in self.inputs.problem.items}

    @property
    def _worked_on(self) -> list[Finding]:
        return [finding for finding in self.unit.findings if finding.kind in self._named]

    def _repair(self, kind: str) -> int | None:
        """Index of the option most likely to be tried on a kind; the usual one where none is."""
        problem = self.inputs.problem
        item = next(i for i, item in enumerate(problem.items) if item.key == kind)
        closing = [o for o, option in enumerate(problem.options) if item in option.closes]
        made = _made(self.plan)
        return max(closing, key=lambda o: made[o], default=None)

    @property
    def _chosen(self) -> list[int]:
        options = [self._repair(finding.kind) for finding in self._worked_on]
        return list(dict.fromkeys(o for o in options if o is not None))

    def repairs(self) -> list[Repair]:
        """Repairs of what was found, in the order of the findings."""
        return [self.inputs.repairs[o] for o in self._chosen]

    def work(self) -> tuple[WorkLine, ...]:
        """What is wrong and what is done about it; causes to be traced and what is left come last."""
        kinds = self.catalogue.kinds
        lines = [self._work_line(finding) for finding in self._worked_on]
        for finding in self.unit.findings:
            if kinds[finding.kind].role == "risk":
                wrong = _words(kinds[finding.kind])
                lines.append(
                    WorkLine(wrong, "Left unrepaired: we check for damage that comes with it.", finding.seen)
                )
        for slug in unexplained_symptoms(self.unit, self.catalogue):
            wrong = _sentence(self.catalogue.symptoms[slug].name)
            lines.append(WorkLine(wrong, "We look for the cause and repair it."))
        for finding in self.unit.findings:
            kind = kinds[finding.kind]
            if kind.role == "repair" and kind.slug not in self._named:
                lines.append(WorkLine(_words(kind), _LEFT, finding.seen, included=False))
        return tuple(lines)

    def _work_line(self, finding: Finding) -> WorkLine:
        option = self._repair(finding.kind)
        repair = None if option is None else self.inputs.repairs[option]
        done = _LEFT if repair is None else repair.plain or _sentence(repair.name)
        wrong = _words(self.catalogue.kinds[finding.kind])
        return WorkLine(wrong, done, finding.seen, included=repair is not None)

    def possible(self) -> tuple[str, ...]:
        """Hidden faults that may turn up, likeliest first."""
        problem, found = self.inputs.problem, {finding.kind for finding in self.unit.findings}
        shares = {
            item.key: float(problem.weights @ problem.latent_faults[item.latent_fault].chance[item.branch])
            for item in problem.items
            if item.latent_fault >= 0 and item.key in self.catalogue.kinds and item.key not in found
            if problem.latent_faults[item.latent_fault].trace_minutes is None
        }
        ranked = sorted((kind for kind in shares if shares[kind] >= _WORTH_NAMING), key=lambda k: -shares[k])
        return tuple(_words(self.catalogue.kinds[kind]) for kind in ranked)

    def part_lines(self) -> list[PartLine]:
        """Parts that the work fits, each once."""
        lines = {line.part: line for option in self._chosen for line in self.inputs.parts[option]}
        return list(lines.values())

    def parts(self) -> tuple[FittedPart, ...]:
        """The same as the owner is told of them."""
        known = self.catalogue.parts
        return tuple(
            FittedPart(_part_words(known[line.part]), line.grade, known[line.part].paired)
            for line in self.part_lines()
            if line.part in known
        )

    def carried_over(self) -> tuple[str, ...]:
        """Paired parts of the device that move to another assembly: not those that are damaged."""
        parts = self.catalogue.parts
        seen = {finding.kind for finding in self.unit.findings if finding.seen}
        damaged = self.catalogue.parts_hit(seen | {lesser for _, lesser in self.unit.covered})
        slugs = dict.fromkeys(slug for repair in self.repairs() for slug in repair.moves if slug in parts)
        return tuple(_part_words(parts[slug]) for slug in slugs if parts[slug].paired and slug not in damaged)

    def lost(self) -> tuple[str, ...]:
        """Functions that the work tries to restore and that the device can do without."""
        optional = {item.key for item in self.inputs.problem.items if not item.required}
        kinds = [self.catalogue.kinds[f.kind] for f in self._worked_on if f.kind in optional]
        return tuple(dict.fromkeys(kind.lost_function for kind in kinds if kind.lost_function))


def _made(plan: RepairPlan) -> dict[int, float]:
    """By index of the option, how likely the plan comes to it."""
    made = dict.fromkeys(range(len(plan.plan_space.problem.options)), 0.0)
    for move, chance in plan.made_moves():
        if move.kind is MoveKind.REPAIR:
            made[move.subject] += float(chance.sum())
    return made


def _words(kind: DamageKind) -> str:
    return kind.plain or _sentence(kind.name)


def _part_words(part: Part) -> str:
    return part.plain or part.name


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."
