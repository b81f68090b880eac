"""State an assumption: asked one thing at a time, shown what it means, saved with its reason."""

from __future__ import annotations

from dataclasses import replace

import streamlit as st

from triage.app_pages.assumptions.assumption_keeping import base_set, keep, name_asked
from triage.app_pages.shared.current_device import current_draft, finished, listed, read
from triage.app_pages.shared.literal import literal
from triage.domain.units.unit import Unit
from triage.elicitation.stated_belief import StatedBelief, state_belief
from triage.elicitation.statement import Statement
from triage.errors import TriageError
from triage.policy.answer.assessment import Assessment
from triage.priors.prior_set import PriorSet
from triage.priors.success import KindBelief
from triage.reports.charts.assumption import count_dots
from triage.reports.wording.assumption import (
    asked_lines,
    asked_warning,
    belief_words,
    count_words,
    money_words,
)
from triage.workflows.answers.beliefs_in_money import StatedInMoney, example_device, stated_in_money
from triage.workflows.shop.own_sets import OwnSet, keep_belief, named_folder
from triage.workflows.shop.shop import Shop

_OF = 20

_HOW = """
- Your numbers are quantiles of the chance: the first is its median, the second its lower 1 in 20 point, the
  third its upper 1 in 20 point. The assumption is the normal distribution of the logit that matches them. It
  is stored as a mean chance and a number of jobs: the chance has the standard deviation
  √(chance × (1 − chance) / (jobs + 1)), as after that many jobs.
- Before any job is counted, it implies how many of 20 are fixed (prior predictive distribution). The 20 dots
  are 20 equally likely results.
- A fit starts from all assumptions together. Up to half of an assumption's variance is shared with the shop
  and the family, but it stays as sure as stated.
- You are asked before the set and the record are shown, because a number seen first biases the answer
  (anchoring).
"""


def state_part(shop: Shop) -> None:
    """Draw the questions, and once they are answered what the assumption means."""
    st.markdown("Enter what you expect. Then see what it means, and what the set assumes now.")
    kind = _kind(shop)
    if kind is None:
        return
    base = base_set(shop, "assumption-base")
    statement = _statement(kind, shop)
    if statement is None:
        return
    try:
        stated = _stated(kind, statement, shop, base.priors, (shop.catalogue.digest, base.priors.digest))
    except TriageError as refusal:
        st.error(listed(refusal))
        return
    _meaning(stated)
    _counts(stated, base)
    _money(stated.belief, replace(shop, priors=base.priors))
    with st.expander("How we get this", type="compact"):
        st.markdown(_HOW)
    _keep(stated.belief, base, shop)


def _kind(shop: Shop) -> str | None:
    families = {family.slug: family.name for family in shop.catalogue.family}
    kinds = {slug: kind for slug, kind in shop.catalogue.kinds.items() if kind.role == "repair"}
    return st.selectbox(
        "Damage kind", list(kinds), index=None, key="assumption-kind", persist_state="session",
        format_func=lambda slug: f"{kinds[slug].name} ({families.get(kinds[slug].family, '')})",
        placeholder="choose",
    )  # fmt: skip


def _statement(kind: str, shop: Shop) -> Statement | None:
    """Ask one thing at a time; None until the first is answered."""
    name = literal(shop.catalogue.kinds[kind].name)
    st.markdown(f"Think of **20 devices with this damage: {name}**, at severity 2. Nothing else is known.")
    about = _count(f"Of the {_OF}, I would fix about", f"assumption-about-{kind}", "15")
    if about is None:
        return None
    fewer = _count("I would be surprised by fewer than", f"assumption-fewer-{kind}", "11")
    more = _count("I would be surprised by more than (optional)", f"assumption-more-{kind}", "19")
    if fewer is None and more is None:
        st.caption("With the first number alone, the assumption is worth only a few jobs.")
    return Statement(about, _OF, fewer, more)


def _count(label: str, key: str, example: str) -> float | None:
    return st.number_input(
        label, 0.0, float(_OF), None, 1.0, "%g", key=key, placeholder=f"such as {example}",
        persist_state="session",
    )  # fmt: skip


@st.cache_resource(max_entries=50, show_spinner=False)
def _stated(
    kind: str, statement: Statement, _shop: Shop, _priors: PriorSet, key: tuple[str, ...]
) -> StatedBelief:
    return state_belief(kind, statement, _shop.catalogue, _priors)


def _meaning(stated: StatedBelief) -> None:
    reason = f" ({literal(stated.before.reason)})" if stated.before.reason else ""
    st.header("Your assumption", anchor=False)
    st.markdown(
        f"You assume **{belief_words(stated.belief)}**.  \n"
        f"The set assumes now: {belief_words(stated.before)}{reason}."
    )
    st.caption(
        "The count is the mean chance. Worth 3 jobs: it counts as much in a fit as 3 jobs of the record."
    )
    st.markdown("\n".join(f"- {literal(line)}" for line in asked_lines(stated)))
    if warning := asked_warning(stated):
        st.warning(literal(warning), icon=":material/warning:")


def _counts(stated: StatedBelief, base: OwnSet) -> None:
    st.markdown("**Before any job is counted: 20 runs of 20 devices, one dot a run (prior predictive)**")
    for words, count, said in (
        ("As you state it", stated.alone, True),
        (f"As the set has it now ({literal(base.name)})", stated.before_alone, False),
    ):
        line = count_words(count)
        st.caption(f"{words}: {literal(line)}.")
        st.altair_chart(
            count_dots(count, said), width="content", theme=None, alt=f"{words}: {line}",
            key=f"assumption-dots-{'said' if said else 'before'}",
        )  # fmt: skip


def _money(belief: KindBelief, shop: Shop) -> None:
    """What the assumption means for a device, in money: the one in hand if it has this damage."""
    unit, ask, walk_in, words = _device(belief.slug, shop)
    try:
        with st.spinner("Calculating…"):
            found = _in_money(belief, unit, shop, ask, walk_in, _books(shop, unit))
    except TriageError as refusal:
        st.caption(f"There is no amount for {words}: {literal(str(refusal))}")
        return
    st.markdown(f"**In money, for {words}**")
    st.markdown(
        f"- **As you state it**: {literal(money_words(found.stated))}\n"
        f"- **As the set has it now**: {literal(money_words(found.before))}\n"
        f"- **With the record (fit in use)**: {literal(money_words(found.record))}"
    )
    if _figures(found.stated) == _figures(found.before):
        st.caption(
            "The assumption makes no difference to this device, because its plan does not depend on that "
            "repair."
        )
    st.caption(
        f"The first two count no past repair. These come from the record in all three: "
        f"{literal(found.learned)}."
    )


def _figures(found: Assessment) -> tuple[object, ...]:
    """The figures of an answer in money, as exactly as they are shown."""
    margin = None if found.expected_margin is None else round(found.expected_margin)
    return found.verdict, found.limit, margin, found.losses_in_20


def _device(kind: str, shop: Shop) -> tuple[Unit, float | None, bool, str]:
    draft = current_draft()
    unit, _ = read(draft, shop)
    if unit is not None and finished(unit) and kind in {finding.kind for finding in unit.findings}:
        name = f"the current device, {literal(unit.name)}" if unit.name else "the current device"
        return unit, draft.ask, draft.walk_in, name
    unit = example_device(kind, shop)
    tier = shop.prices.tiers()[unit.tier].name.lower()
    return unit, None, False, f"an example: a device of the price class {literal(tier)} with only this damage"


def _books(shop: Shop, unit: Unit) -> tuple[str, ...]:
    """All that the money depends on, as a key."""
    return (
        repr(unit), shop.posterior.manifest.folder, shop.catalogue.digest, shop.priors.digest,
        repr(shop.settings), repr(shop.prices), repr(shop.supply), shop.today.isoformat(),
    )  # fmt: skip


@st.cache_resource(max_entries=50, show_spinner=False)
def _in_money(
    belief: KindBelief, _unit: Unit, _shop: Shop, ask: float | None, walk_in: bool, books: tuple[str, ...]
) -> StatedInMoney:
    return stated_in_money(belief, _unit, _shop, ask, walk_in)


def _keep(belief: KindBelief, base: OwnSet, shop: Shop) -> None:
    st.header("Save it", anchor=False)
    with st.form("assumption-keep", border=False):
        reason = st.text_area(
            "Reason", max_chars=400, key=f"assumption-reason-{belief.slug}",
            placeholder="what you have seen, where, and how often",
        )  # fmt: skip
        name = name_asked(base, "assumption-keep-name")
        pressed = st.form_submit_button("Save assumption", type="primary", key="assumption-keep-go")
    if pressed:
        said = replace(belief, reason=" ".join((reason or "").split()))
        keep(lambda: keep_belief(said, named_folder(name), base.folder, shop.catalogue))
