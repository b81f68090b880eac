"""The work plan as a path: the likely way down the page, branches indented under the step they leave."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import streamlit as st

from triage.app_pages.shared.cautions import (
    STOP_POINT,
    folded_cautions,
    said_before,
    show_cautions,
    step_anchor,
)
from triage.app_pages.shared.literal import literal
from triage.domain.catalogue_entries import Caution, VerificationLine
from triage.policy.answer.assessment import Assessment, Branch, BranchEnd, PlanStep
from triage.reports.wording.branch import branch_figures, condition_words, end_words, ending_minutes
from triage.reports.wording.cautions import CautionsSaid
from triage.reports.wording.left import left_line
from triage.reports.wording.plan import otherwise_words, step_words, upper
from triage.reports.wording.step import part_words, plan_words, step_figures
from triage.workflows.shop.shop import Shop

# Hooks are widget keys: a branch hangs from a line at its left, figures stand at the right edge.
_PATH = """<style>
[class*='st-key-device-branch-'] {
    border-left: 2px solid color-mix(in srgb, currentColor 30%, transparent);
    padding-left: 0.8rem; margin-left: 0.6rem; width: calc(100% - 0.6rem);
}
[class*='st-key-device-under-'] { padding-left: 1.4rem; }
[class*='st-key-device-row-'] { flex-wrap: nowrap; justify-content: space-between; }
[class*='st-key-device-row-'] > :last-child:not(:first-child) {
    flex: none; max-width: 40%; text-align: right;
}
a[href^='#step-'] { color: inherit !important; }
</style>"""
_NO_BREAK = "\N{NO-BREAK SPACE}"
_BULLET = ":material/subdirectory_arrow_right:"


def show_plan(assessment: Assessment, shop: Shop, said: CautionsSaid) -> None:
    """Draw the steps in order: minutes and chance, cautions, parts, measures, the other ways it can go."""
    if not assessment.steps_now:
        return
    st.subheader("Work plan", anchor=False)
    st.html(_PATH)
    st.caption(plan_words(assessment))
    if words := left_line(assessment):
        st.markdown(literal(words))
    plan = _Plan(assessment, shop, said)
    for number, step in enumerate(assessment.steps_now, start=1):
        plan.step(number, step)


@dataclass(frozen=True)
class _Plan:
    """Draws one plan."""

    assessment: Assessment
    shop: Shop
    said: CautionsSaid

    def step(self, number: int, step: PlanStep) -> None:
        """One step of the likely way, and what leaves it."""
        with st.container(gap="xsmall", key=f"device-step-{number}"):
            step_anchor(number)
            words = f"**{number}. {literal(step_words(step, self.shop.catalogue))}**"
            _row(words, step_figures(step), f"{number}")
            self._cautions(number, step.cautions)
            self._otherwise(step)
            _measures(step.verify)
            for place, branch in enumerate(step.branches):
                with st.container(gap="xsmall", key=f"device-branch-{number}-{place}"):
                    self._branch(number, f"{number}-{place}", step, branch)

    def _branch(self, number: int, key: str, step: PlanStep, branch: Branch) -> None:
        """One other way: its acts with what must be said at each, then all else that is to be known."""
        route, catalogue = self.assessment.plan_route, self.shop.catalogue
        condition, end = condition_words(branch, step, catalogue), end_words(branch, step, route)
        stop = f"{STOP_POINT} " if branch.end is BranchEnd.STOP else ""
        acts = (*branch.steps, *branch.ending)
        if branch.steps:
            _row(f"**{literal(condition)}:**", branch_figures(branch), key)
            for place, act in enumerate(branch.steps):
                words = f"{_BULLET} {literal(step_words(act, catalogue, carried=False))}"
                _row(words, step_figures(act), f"{key}-{place}")
                with st.container(gap="xsmall", key=f"device-under-{key}-{place}"):
                    self._cautions(number, filter(self.said.must_be_said, act.cautions))
                    self._otherwise(act)
            _row(f"{_BULLET} {stop}{literal(upper(end))}", ending_minutes(branch), f"{key}-end")
        else:
            _row(f"{stop}**{literal(condition)}:** {literal(end)}", branch_figures(branch), key)
        later = [
            caution for act in branch.steps for caution in act.cautions if not self.said.must_be_said(caution)
        ]
        self._cautions(number, (*later, *(caution for act in branch.ending for caution in act.cautions)))
        _measures(line for act in acts for line in act.verify)

    def _otherwise(self, step: PlanStep) -> None:
        """Parts of a step; and what follows otherwise, where no branch says it."""
        catalogue, currency = self.shop.catalogue, self.assessment.currency
        lines = [f"Part: {literal(part_words(part, catalogue, currency))}" for part in step.parts]
        words = "" if step.branches else otherwise_words(step, catalogue, self.assessment.plan_route)
        if words:
            lines.append((STOP_POINT + " " if step.stop_point else "") + literal(words))
        if lines:
            st.markdown("  \n".join(lines))

    def _cautions(self, number: int, cautions: Iterable[Caution]) -> None:
        """Each caution whole at the first act it is for, and with its place afterwards."""
        found = self.said.at(number, cautions)
        show_cautions(tuple(caution for caution in found.whole if self.said.must_be_said(caution)))
        folded_cautions(tuple(caution for caution in found.whole if not self.said.must_be_said(caution)))
        said_before(found.before)


def _row(words: str, figures: str, key: str) -> None:
    """Words, and figures at the right edge."""
    with st.container(horizontal=True, gap="small", key=f"device-row-{key}"):
        st.markdown(words)
        if figures:
            # "works 17 in 20" stays together.
            together = ", ".join(one.replace(" ", _NO_BREAK) for one in figures.split(", "))
            st.markdown(together, width="content")


def _measures(lines: Iterable[VerificationLine]) -> None:
    known = {line.slug: line for line in lines}.values()
    if known:
        with st.expander(
            f"{len(known)} function test{'s' * (len(known) != 1)} after this step",
            type="compact",
            icon=":material/straighten:",
        ):
            st.markdown("\n".join(f"- {literal(line.name)}: {literal(line.limit)}" for line in known))
