"""A plan as a path in the terminal: the likely way down, branches indented under the step they leave."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from itertools import accumulate, groupby
from typing import Any

from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import Caution
from triage.domain.durations import bench_time
from triage.policy.answer.assessment import Assessment, Branch, BranchEnd, PlanStep
from triage.reports.terminal.lines import Line
from triage.reports.wording.branch import branch_figures, condition_words, end_words, ending_minutes
from triage.reports.wording.cautions import CautionsSaid, before_words, whole_words
from triage.reports.wording.plan import (
    CLOSING,
    CLOSING_WORDS,
    lower,
    otherwise_words,
    short_words,
    step_words,
    stop_condition,
    upper,
)
from triage.reports.wording.step import part_words, step_figures

STOP_POINT = "STOP POINT"
_STEP = 4


@dataclass(frozen=True)
class Detail:
    """How much of a plan is told. What must be said of battery, liquid and ownership is told whatever it is.

    all : parts, measures and every caution too.
    closing : each step after the work on a line of its own.
    branch_steps : each step of a branch on a line of its own.
    going_on : how many branches of a step that do not stop at once, the likelier first.
    stopping : branches that do; without them the stop point is marked at its step.
    plain : steps at which nothing is to be said of stopping or of dangers, each on a line of its own.
    mentions : a caution said before is named at the step; else the step has a mark, and the names follow.
    reasons : why the verdict and the price are what they are.
    """

    all: bool = False
    closing: bool = True
    branch_steps: bool = True
    going_on: int = 99
    stopping: bool = True
    plain: bool = True
    mentions: bool = True
    reasons: bool = True


WHOLE = Detail(all=True)
_YIELDS: tuple[dict[str, Any], ...] = (
    {"closing": False}, {"branch_steps": False}, {"going_on": 2}, {"going_on": 1}, {"going_on": 0},
    {"stopping": False}, {"plain": False}, {"reasons": False}, {"mentions": False},
)  # fmt: skip
# What gives way, in this order, until the answer fits the screen.
GIVING_WAY = tuple(accumulate(_YIELDS, lambda detail, less: replace(detail, **less), initial=Detail()))


@dataclass(frozen=True)
class PlanLines:
    """Writes the lines of one plan."""

    assessment: Assessment
    catalogue: Catalogue
    detail: Detail
    said: CautionsSaid
    marked: dict[str, list[int]] = field(default_factory=dict)

    def lines(self) -> Iterator[Line]:
        """All lines, in order."""
        numbered = list(enumerate(self.assessment.steps_now, start=1))
        for _, together in groupby(numbered, self._place):
            yield from self._group(list(together))
        if self.marked:
            places = (f"{title}: {_steps(numbers)}" for title, numbers in self.marked.items())
            yield Line("; ".join(places), head="! ")

    def cautions(self, cautions: Iterable[Caution], number: int, indent: int) -> Iterator[Line]:
        """What is said of cautions at a step."""
        wanted = (one for one in cautions if self.detail.all or self.said.must_be_said(one))
        found = self.said.at(number, wanted)
        for caution in found.whole:
            yield Line(whole_words(caution), head="! ", indent=indent if self.detail.mentions else 0)
        if found.before and self.detail.mentions:
            yield Line(before_words(found.before), head="! ", indent=indent)
        elif not self.detail.mentions:
            for caution, _ in found.before:
                self.marked.setdefault(caution.title, []).append(number)

    def _place(self, numbered: tuple[int, PlanStep]) -> tuple[str, int]:
        """Steps of the same place share one line."""
        number, step = numbered
        if step.kind in CLOSING and not self.detail.closing:
            return "closing", 0
        plain = not step.stop_point and not any(map(self.said.must_be_said, self._all_cautions(step)))
        if plain and not self.detail.plain:
            return "plain", 0
        return "", number

    def _all_cautions(self, step: PlanStep) -> list[Caution]:
        """Cautions of a step, and of its branches that are not shown."""
        shown = self._shown(step)
        hidden = [
            later
            for branch in step.branches
            if branch not in shown
            for later in (*branch.steps, *branch.ending)
        ]
        return [caution for one in (step, *hidden) for caution in one.cautions]

    def _shown(self, step: PlanStep) -> tuple[Branch, ...]:
        going_on = [branch for branch in step.branches if branch.steps or branch.end is not BranchEnd.STOP]
        left_out = going_on[self.detail.going_on :]
        return tuple(
            branch
            for branch in step.branches
            if branch not in left_out and (self.detail.stopping or branch in going_on)
        )

    def _group(self, numbered: list[tuple[int, PlanStep]]) -> Iterator[Line]:
        (first, step), last = numbered[0], numbered[-1][0]
        cautions = [caution for _, one in numbered for caution in self._all_cautions(one)]
        said = list(self.cautions(cautions, first, _STEP))
        mark = "! " if any(first in numbers for numbers in self.marked.values()) else ""
        if len(numbered) == 1:
            stops = step.stop_point and not self.detail.stopping
            stop = f" ({STOP_POINT} {stop_condition(step)})" if stops else ""
            text, figures = self._words(step) + stop, step_figures(step)
            head = f"{first:>2}. {mark}"
        else:
            steps = [one for _, one in numbered]
            closing = all(one.kind in CLOSING for one in steps)
            text = CLOSING_WORDS[self.assessment.plan_route] if closing else self._joined(steps)
            figures, head = _minutes(steps), f"{first:>2}-{last}. {mark}"
        yield Line(text, figures, head, style="bold" if STOP_POINT in text else "")
        yield from said
        for number, one in numbered:
            yield from self._details(one, _STEP)
            for branch in self._shown(one):
                yield from self._branch(branch, one, number)
            if not one.branches:
                yield from self._otherwise(one, _STEP)

    def _words(self, step: PlanStep) -> str:
        """A step; which parts a repair transfers is told with its own parts."""
        return step_words(step, self.catalogue, carried=self.detail.all)

    def _joined(self, steps: Iterable[PlanStep]) -> str:
        first, *rest = (short_words(step, self.catalogue) for step in steps)
        return "; ".join((first, *map(lower, rest)))

    def _details(self, step: PlanStep, indent: int) -> Iterator[Line]:
        if not self.detail.all:
            return
        for part in step.parts:
            words = part_words(part, self.catalogue, self.assessment.currency)
            yield Line(words, head="part: ", indent=indent)
        for check in step.verify:
            yield Line(f"{check.name}: {check.limit}", head="function test: ", indent=indent)

    def _otherwise(self, step: PlanStep, indent: int) -> Iterator[Line]:
        """What follows in a line, where no branch says it."""
        if words := otherwise_words(step, self.catalogue, self.assessment.plan_route):
            if not step.stop_point:
                yield Line(words, indent=indent)
            elif self.detail.stopping:
                yield Line(f"{STOP_POINT}: {words}", indent=indent, style="bold")

    def _branch(self, branch: Branch, step: PlanStep, number: int) -> Iterator[Line]:
        end = end_words(branch, step, self.assessment.plan_route)
        condition = condition_words(branch, step, self.catalogue)
        stop = f"{STOP_POINT}: " if branch.end is BranchEnd.STOP else ""
        style = "bold" if stop else ""
        cautions = [caution for one in (*branch.steps, *branch.ending) for caution in one.cautions]
        if not branch.steps:
            yield Line(f"{stop}{condition}: {end}", branch_figures(branch), indent=_STEP, style=style)
            yield from self.cautions(cautions, number, 2 * _STEP)
            for one in branch.ending:
                yield from self._details(one, 2 * _STEP)
        elif not self.detail.branch_steps:
            words = lower(self._joined(branch.steps))
            minutes = _minutes([*branch.steps, *branch.ending])
            figures = f"{minutes}, {branch_figures(branch)}" if minutes else branch_figures(branch)
            yield Line(f"{condition}: {words}; {stop}{end}", figures, indent=_STEP)
            yield from self.cautions(cautions, number, 2 * _STEP)
        else:
            yield Line(f"{condition}:", branch_figures(branch), indent=_STEP)
            for one in branch.steps:
                yield from self._branch_step(one, number)
            yield Line(stop + (end if stop else upper(end)), ending_minutes(branch), "- ", 2 * _STEP, style)
            for one in branch.ending:
                yield from self.cautions(one.cautions, number, 2 * _STEP + 2)
                yield from self._details(one, 2 * _STEP + 2)

    def _branch_step(self, step: PlanStep, number: int) -> Iterator[Line]:
        indent = 2 * _STEP
        yield Line(self._words(step), step_figures(step), "- ", indent)
        yield from self.cautions(step.cautions, number, indent + 2)
        yield from self._details(step, indent + 2)
        yield from self._otherwise(step, indent + 2)


def _minutes(steps: Iterable[PlanStep]) -> str:
    """Bench time of steps that share a line."""
    minutes = sum(step.minutes for step in steps)
    return bench_time(minutes) if minutes >= 0.5 else ""


def _steps(numbers: Iterable[int]) -> str:
    told = [str(number) for number in dict.fromkeys(numbers)]
    return f"step{'s' if len(told) > 1 else ''} {', '.join(told)}"
