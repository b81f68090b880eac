"""State a belief: asked one thing at a time, shown what it means, kept with its reason."""

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
    start_warning,
)
from triage.workflows.answers.beliefs_in_money import StatedInMoney, example_device, stated_in_money
from triage.workflows.shop.own_sets import OwnSet, keep_belief, named_folder
from triage.workflows.shop.shop import Shop

_OF = 20

_HOW = """
- What you say are points of your uncertainty about the chance: as likely above as below the first number, and
  1 in 20 below the second. The belief that has them is a Beta distribution, written as a mean chance and the
  number of jobs it is worth: its parameters are chance × jobs and (1 − chance) × jobs.
- Before any job is counted it implies a number fixed of 20: a beta-binomial distribution (a prior
  predictive). The 20 dots are 20 equally likely such numbers.
- Learning starts from all beliefs together, where the shop and the family may be off too; the difference is
  shown, and said aloud when it is more than 1 in 100.
- It is asked before the set or the record is shown, because a number that has been seen draws the answer
  towards itself.
"""


def state_part(shop: Shop) -> None:
    """Draw the questions, and once they are answered what the belief means."""
    st.markdown("Say first what you think; then see what it means and what the set says now.")
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
        "Which damage?", list(kinds), index=None, key="assumption-kind", persist_state="session",
        format_func=lambda slug: f"{kinds[slug].name} ({families.get(kinds[slug].family, '')})",
        placeholder="choose",
    )  # fmt: skip


def _statement(kind: str, shop: Shop) -> Statement | None:
    """Ask one thing at a time; None until the first is answered."""
    name = literal(shop.catalogue.kinds[kind].name)
    st.markdown(f"Think of **20 devices with this damage: {name}**, at severity 2, nothing else known.")
    about = _count(f"Of the {_OF} I would fix about", f"assumption-about-{kind}", "15")
    if about is None:
        return None
    fewer = _count("I would be surprised by fewer than", f"assumption-fewer-{kind}", "11")
    more = _count("… and by more than (you may leave this out)", f"assumption-more-{kind}", "19")
    if fewer is None and more is None:
        st.caption("With the first number alone, the belief counts for little: for as much as a few jobs.")
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
    st.header("What that means", anchor=False)
    st.markdown(
        f"You believe **{belief_words(stated.belief)}**.  \n"
        f"The set says now: {belief_words(stated.before)}{reason}."
    )
    st.markdown("\n".join(f"- {literal(line)}" for line in asked_lines(stated)))
    if warning := asked_warning(stated):
        st.warning(literal(warning), icon=":material/warning:")
    if warning := start_warning(stated):
        st.caption(f":material/info: {literal(warning)}")


def _counts(stated: StatedBelief, base: OwnSet) -> None:
    st.markdown("**Before any job is counted: 20 runs of 20 devices, a dot for each run**")
    for words, count, said in (
        ("As you say", stated.alone, True),
        (f"As the set says now ({literal(base.name)})", stated.before_alone, False),
    ):
        line = count_words(count)
        st.caption(f"{words}: {literal(line)}.")
        st.altair_chart(
            count_dots(count, said), width="content", theme=None, alt=f"{words}: {line}",
            key=f"assumption-dots-{'said' if said else 'before'}",
        )  # fmt: skip


def _money(belief: KindBelief, shop: Shop) -> None:
    """What the belief makes of a device, in money: the one in hand if it has this damage."""
    unit, ask, walk_in, words = _device(belief.slug, shop)
    try:
        with st.spinner("Working it out…"):
            found = _in_money(belief, unit, shop, ask, walk_in, _books(shop, unit))
    except TriageError as refusal:
        st.caption(f"In money nothing can be said of {words}: {literal(str(refusal))}")
        return
    st.markdown(f"**In money, for {words}**")
    st.markdown(
        f"- **As you say**: {literal(money_words(found.stated))}\n"
        f"- **As the set says now**: {literal(money_words(found.before))}\n"
        f"- **With the record, as it stands**: {literal(money_words(found.record))}"
    )
    if _figures(found.stated) == _figures(found.before):
        st.caption("The belief makes no difference to this device: its plan does not hang on that repair.")
    st.caption(f"The first two are before any repair was counted; as recorded: {literal(found.learned)}.")


def _figures(found: Assessment) -> tuple[object, ...]:
    """What is said of an answer in money, as exactly as it is said."""
    margin = None if found.expected_margin is None else round(found.expected_margin)
    return found.verdict, found.limit, margin, found.losses_in_20


def _device(kind: str, shop: Shop) -> tuple[Unit, float | None, bool, str]:
    draft = current_draft()
    unit, _ = read(draft, shop)
    if unit is not None and finished(unit) and kind in {finding.kind for finding in unit.findings}:
        name = f"the device in hand, {literal(unit.name)}" if unit.name else "the device in hand"
        return unit, draft.ask, draft.walk_in, name
    unit = example_device(kind, shop)
    tier = shop.prices.tiers()[unit.tier].name.lower()
    return unit, None, False, f"an example: a device of the {literal(tier)} tier with this damage alone"


def _books(shop: Shop, unit: Unit) -> tuple[str, ...]:
    """All that the money hangs on, as a key."""
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
    st.header("Keep it", anchor=False)
    with st.form("assumption-keep", border=False):
        reason = st.text_area(
            "Why do you believe it?", max_chars=400, key=f"assumption-reason-{belief.slug}",
            placeholder="what you have seen, where, and how often",
        )  # fmt: skip
        name = name_asked(base, "assumption-keep-name")
        pressed = st.form_submit_button("Keep this belief", type="primary", key="assumption-keep-go")
    if pressed:
        said = replace(belief, reason=" ".join((reason or "").split()))
        keep(lambda: keep_belief(said, named_folder(name), base.folder, shop.catalogue))
