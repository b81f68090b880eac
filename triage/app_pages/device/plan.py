"""The plan of work, step by step, with each caution at the step it belongs to."""

from __future__ import annotations

import streamlit as st

from triage.app_pages.shared.cautions import STOP_POINT, folded_cautions, show_cautions
from triage.app_pages.shared.literal import literal
from triage.policy.answer.assessment import Assessment, PlanStep
from triage.reports.wording.plan import otherwise_words, step_words
from triage.reports.wording.step import part_words, plan_words, step_figures
from triage.workflows.shop.shop import Shop


def show_plan(assessment: Assessment, shop: Shop) -> None:
    """Draw the steps in order: minutes, chance, what if it fails, parts, measures, cautions."""
    if not assessment.steps_now:
        return
    st.subheader("Plan of work", anchor=False)
    st.caption(plan_words(assessment))
    said: set[str] = set()
    for number, step in enumerate(assessment.steps_now, start=1):
        _step(number, step, assessment, shop, frozenset(said))
        said.update(caution.slug for caution in step.cautions)


def _step(number: int, step: PlanStep, assessment: Assessment, shop: Shop, said: frozenset[str]) -> None:
    figures = step_figures(step)
    lines = [f"Part: {literal(part_words(part, shop.catalogue, assessment.currency))}" for part in step.parts]
    if words := otherwise_words(step, shop.catalogue, assessment.route):
        lines.append((STOP_POINT + " " if step.stop_point else "") + literal(words))
    with st.container(gap="xsmall", key=f"device-step-{number}"):
        st.markdown(
            f"**{number}. {literal(step_words(step, shop.catalogue))}**"
            + (f" · {figures}" if figures else "")
        )
        show_cautions(tuple(caution for caution in step.cautions if caution.always), said)
        if lines:
            st.markdown("  \n".join(lines))
        folded_cautions(tuple(caution for caution in step.cautions if not caution.always))
        if step.verify:
            with st.expander(f"Measure ({len(step.verify)})", type="compact", icon=":material/straighten:"):
                st.markdown(
                    "\n".join(f"- {literal(line.name)}: {literal(line.limit)}" for line in step.verify)
                )
