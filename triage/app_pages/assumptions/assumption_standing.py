"""Where we stand: belief, record and both, kind by kind; where they pull apart comes first."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd
import streamlit as st

from triage.app_pages.shared.current_device import listed
from triage.app_pages.shared.literal import literal
from triage.domain.history import History
from triage.elicitation.beside_record import BesideRecord, beside_record
from triage.elicitation.conflict import Decides, KindConflict
from triage.errors import TriageError
from triage.reports.charts.assumption import standing_chart, standing_words
from triage.reports.wording.assumption import DECIDES_WORDS, conflict_words, counted_words, estimate_words
from triage.workflows.answers.beliefs_in_money import KindStanding, conflicts, where_we_stand
from triage.workflows.fitting.record_of_fit import record_of_fit
from triage.workflows.shop.shop import Shop
from triage.workflows.shop.shop_history import ShopHistory

_FIRST = 3  # told at once; the rest are one tap away
_APART, _EVERY = "where they pull apart", "every kind"
# A picture of more kinds than this is scrolled past, not read.
_MOST_DRAWN = 14

_HOW = """
- **Belief** is what the set of beliefs says of a fresh job at severity 2, before any job is counted: where
  learning starts. The whole shop and the whole family may be off as well, so it is a little less sure than
  the belief by itself.
- **Record** is what was counted at severity 2: so many fixed of so many tried. Other severities, and the rest
  of each job, are not in this count but are in **both**.
- **Both** is the chance of a fresh job at severity 2 once the record is learned. The ranges hold 9 in 10 of
  what is thought possible.
- **Pull apart**: each belief, and then each kind's own attempts, are counted a little more and a little less,
  and the chance is watched. It is said that they pull apart where it moves with both by .05 or more (the
  threshold of Kallioinen, Paananen, Bürkner and Vehtari 2023, *Statistics and Computing* 34:57, who call this
  power-scaling sensitivity of prior and likelihood) **and** the two move it opposite ways. That does not say
  which of them is wrong.
"""


def standing_part(shop: Shop, found: ShopHistory | None) -> None:
    """Draw the kinds that disagree, then the chosen kinds as a picture and as a table."""
    rows = _rows(shop, _key(shop))
    standing = where_we_stand(rows, _pulled(shop, found))
    apart = [item for item in standing if item.conflict and item.conflict.decides is Decides.DISAGREE]
    if apart:
        st.header(_heading(len(apart)), anchor=False)
        st.markdown("One of the two is off: what was said beforehand, or what was counted. Look here first.")
        for item in apart[:_FIRST]:
            _told(item)
        if apart[_FIRST:]:
            with st.expander(f"{len(apart) - _FIRST} more", key="assumption-more-apart"):
                for item in apart[_FIRST:]:
                    _told(item)
    elif any(item.conflict for item in standing):
        st.success("Nowhere do belief and record pull the chance apart.", icon=":material/check_circle:")
    st.header("Belief, record, and both", anchor=False)
    chosen = _chosen(standing, apart, shop)
    if len(chosen) <= _MOST_DRAWN:
        words = standing_words([item.row for item in chosen])
        st.altair_chart(
            standing_chart([item.row for item in chosen]), theme=None, key="assumption-standing", alt=words
        )
    st.dataframe(
        pd.DataFrame([_line(item) for item in chosen]), hide_index=True,
        alt="Each damage kind: belief, record and both, at severity 2",
        column_config={"damage": st.column_config.TextColumn(width=190, pinned=True)},
    )  # fmt: skip
    st.caption("Of 20 fresh jobs at severity 2; in brackets, where 9 in 10 of what is thought possible lies.")
    with st.expander("How we get this", type="compact"):
        st.markdown(_HOW)


def say_anew(kind: str) -> None:
    """Go to the part where a belief is stated, about this kind."""
    st.session_state["assumption-kind"] = kind
    st.session_state["assumption-part"] = "state"


def _heading(count: int) -> str:
    return "One kind where belief and record pull apart" if count == 1 else (
        f"{count} kinds where belief and record pull apart"
    )  # fmt: skip


def _told(item: KindStanding) -> None:
    assert item.conflict is not None
    with st.container(border=True, gap="xsmall", key=f"assumption-apart-{item.row.kind}"):
        st.markdown(f"**{literal(item.row.name)}**  \n{literal(conflict_words(item.row, item.conflict))}")
        st.button(
            "Say anew what you believe", key=f"assumption-anew-{item.row.kind}", type="tertiary",
            icon=":material/edit:", on_click=say_anew, args=(item.row.kind,),
        )  # fmt: skip


def _chosen(
    standing: Sequence[KindStanding], apart: Sequence[KindStanding], shop: Shop
) -> Sequence[KindStanding]:
    held = {item.row.family for item in standing}
    families = {family.slug: family.name for family in shop.catalogue.family if family.slug in held}
    names = [*([_APART] if apart else []), *families, _EVERY]
    which = st.selectbox(
        "Which kinds?", names, key="assumption-which", persist_state="session",
        format_func=lambda name: families.get(name, name),
    )  # fmt: skip
    if which == _APART:
        return apart
    return [item for item in standing if which in (_EVERY, item.row.family)]


def _line(item: KindStanding) -> dict[str, str]:
    return {
        "damage": item.row.name,
        "belief": estimate_words(item.row.prior),
        "record": counted_words(item.row),
        "both": estimate_words(item.row.posterior),
    } | ({"what decides": DECIDES_WORDS[item.conflict.decides]} if item.conflict else {})


def _pulled(shop: Shop, found: ShopHistory | None) -> Sequence[KindConflict]:
    """How each kind answers to belief and record; nothing, and why on the page, where nobody can say."""
    posterior, priors = shop.posterior, shop.priors
    if "success" in posterior.manifest.belief_only:
        st.info("No job has been learned from yet: what you believe is all there is, until a fit.")
        return ()
    if posterior.manifest.prior_hash != priors.digest:
        st.info(
            "The chances were learned from other beliefs than those in use, so nobody can say where these "
            "and the record pull apart. Fit again, and this page will."
        )
        return ()
    if found is None:
        return ()
    try:
        record = record_of_fit(posterior, found.arguments, shop.catalogue, found.history)
        return _conflicts(shop, record, (*_key(shop), record.digest))
    except TriageError as refusal:
        st.info(
            "The record is no longer the one that the chances were learned from, so nobody can say where "
            f"belief and record pull apart. Fit again, and this page will.\n\n{listed(refusal)}"
        )
        return ()


@st.cache_resource(max_entries=4, show_spinner="Holding each belief against the record…")
def _conflicts(_shop: Shop, _record: History, key: tuple[str, ...]) -> Sequence[KindConflict]:
    return conflicts(_shop.posterior, _record, _shop.catalogue, _shop.priors)


@st.cache_resource(max_entries=4, show_spinner=False)
def _rows(_shop: Shop, key: tuple[str, ...]) -> Sequence[BesideRecord]:
    return beside_record(_shop.posterior, _shop.priors, _shop.catalogue)


def _key(shop: Shop) -> tuple[str, ...]:
    """What belief and posterior hang on."""
    manifest = shop.posterior.manifest
    return manifest.folder, manifest.data_hash, shop.priors.digest, shop.catalogue.digest
