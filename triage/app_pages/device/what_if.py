"""What if: another price, a check's result, a damage left out, and the answer moves at once."""

from __future__ import annotations

from dataclasses import replace

import streamlit as st

from triage.app_pages.device.unit_text import unit_text
from triage.app_pages.shared.current_device import answered, change, listed
from triage.app_pages.shared.draft import Draft
from triage.app_pages.shared.literal import literal
from triage.app_pages.shared.shop_counter import answer
from triage.domain.money import money_text
from triage.domain.units.unit import CheckResult, Unit
from triage.errors import TriageError
from triage.policy.answer.assessment import Assessment
from triage.reports.wording.step import at_price, limit_words, loss_words
from triage.reports.wording.verdict import verdict_title, verdict_words
from triage.workflows.shop.shop import Shop

# Checks offered for trying: the first are worth most.
_MOST_CHECKS = 4
_NOT_MADE = "not-made"
_RESULTS = {_NOT_MADE: ("not done", None), "found": ("fault found", True), "clear": ("clear", False)}


@st.fragment
def what_if(assessment: Assessment, unit: Unit, draft: Draft, shop: Shop) -> None:
    """Draw the changes that can be tried, and what the answer would be with them.

    unit : as `draft` describes it.
    """
    with st.expander(
        "What if?", icon=":material/swap_horiz:", key="device-what-if", on_change="rerun"
    ) as part:
        if not part.open:
            return
        st.caption("Try another price, a check result or less damage. Nothing is saved until you apply it.")
        tried = _tried(assessment, unit, draft, shop)
        if tried == draft:
            return
        try:
            then = answer(tried.toml, tried.ask, tried.walk_in)
        except TriageError as refusal:
            st.error(listed(refusal))
            return
        _moved(assessment, then)
        if st.button("Apply these changes", key=_key("keep")):
            change(tried)
            answered()
            st.rerun()


def _key(name: str) -> str:
    return f"device-{st.session_state['device-turn']}-what-if-{name}"


def _tried(now: Assessment, unit: Unit, draft: Draft, shop: Shop) -> Draft:
    """The draft as the widgets change it; the same one where they change nothing."""
    ask = draft.ask
    if not draft.walk_in:
        ask = st.number_input(
            f"Try asking price ({now.currency})", 0.0, 1e7, draft.ask, 5.0, "%.2f", key=_key("ask"),
            placeholder="not known",
        )  # fmt: skip
    changed = _with_results(unit, now)
    changed = _with_damage(changed, shop)
    if changed == unit:
        return draft if ask == draft.ask else replace(draft, ask=ask)
    return Draft(unit_text(changed), ask, draft.walk_in)


def _with_results(unit: Unit, now: Assessment) -> Unit:
    """The unit with the results tapped for the checks that are worth making."""
    readings = unit.readings
    for idea in now.checks[:_MOST_CHECKS]:
        tapped = st.pills(
            literal(idea.name), list(_RESULTS), default=_NOT_MADE, required=True, key=_key(idea.check),
            format_func=lambda name: _RESULTS[name][0],
        )  # fmt: skip
        _, found = _RESULTS[tapped or _NOT_MADE]
        if found is not None:
            readings = (*readings, CheckResult(idea.check, found))
    return replace(unit, readings=readings)


def _with_damage(unit: Unit, shop: Shop) -> Unit:
    """The unit without the damage that was tapped off; something must be left wrong with it."""
    kinds = [finding.kind for finding in unit.findings]
    if len(kinds) + len(unit.symptoms) < 2:
        return unit
    left = st.pills(
        "Damage included (tap to leave out)", kinds, default=kinds, selection_mode="multi",
        key=_key("kinds"), format_func=lambda slug: shop.catalogue.kinds[slug].name,
    )  # fmt: skip
    if not left and not unit.symptoms:
        st.caption("Keep at least one damage.")
        return unit
    return replace(unit, findings=tuple(found for found in unit.findings if found.kind in left))


def _moved(now: Assessment, then: Assessment) -> None:
    """Say the verdict and the three numbers, and what they were."""
    was = "unchanged" if then.verdict == now.verdict else f"was: {verdict_words(now.verdict, now.route)}"
    st.markdown(f"**New verdict: {verdict_title(then)}** ({was}). {literal(then.sentence)}")
    lines = [_was(*limit_words(then), limit_words(now)[1])]
    if then.expected_margin is not None:
        lines.append(_was(f"Expected margin{at_price(then)}", _kept(then), _kept(now)))
        lines.append(_was("Risk of loss", _lost(then), _lost(now)))
    st.markdown("\n".join(f"- {literal(line)}" for line in lines))


def _was(label: str, figure: str, before: str) -> str:
    return f"{label}: {figure}" + (f" (was {before})" if before and before != figure else "")


def _kept(answered: Assessment) -> str:
    margin = answered.expected_margin
    return "" if margin is None else money_text(margin, answered.currency, whole=True)


def _lost(answered: Assessment) -> str:
    return "" if answered.losses_in_20 is None else loss_words(answered)
