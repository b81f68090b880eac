"""Assumption, record and fit, kind by kind; where assumption and record disagree comes first."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd
import streamlit as st

from triage.app_pages.shared.current_device import listed
from triage.app_pages.shared.literal import literal
from triage.domain.history import History
from triage.elicitation.beside_record import BesideRecord, beside_record
from triage.elicitation.check_standing import CheckStanding, check_standing
from triage.elicitation.conflict import Decides, KindConflict
from triage.errors import TriageError
from triage.reports.charts.assumption import standing_chart, standing_words
from triage.reports.wording.assumption import (
    COUNTED,
    DECIDES_WORDS,
    POSTERIOR,
    PRIOR,
    check_counted_words,
    conflict_words,
    counted_words,
    estimate_words,
)
from triage.workflows.answers.beliefs_in_money import KindStanding, conflicts, standing_of_kinds
from triage.workflows.fitting.record_of_fit import record_of_fit
from triage.workflows.shop.shop import Shop
from triage.workflows.shop.shop_history import ShopHistory

_FIRST = 3  # told at once; the rest are one tap away
_APART, _EVERY = "where they disagree", "every kind"
_READ = (
    "How many of 20 new jobs at severity 2 are fixed. **Assumption** (prior): expected before "
    "any job is counted. **Record**: the jobs counted. **Fit** (posterior): expected after the record. In "
    "brackets: the 90 % credible interval, which holds the true value with a chance of 18 in 20. "
    "**Sensitive to** (prior sensitivity): whether the assumption or the record moves the fit."
)
_CHECKS_READ = (
    "Of 20 devices with the fault (sensitivity), and of 20 without it (specificity). Your jobs count by "
    "themselves: a result is verified where the bench worked on the fault, found it on opening, opened the "
    "device deep enough to exclude it, or passed the final check without it. Results never verified count "
    "too (Begg and Greenes 1983, *Biometrics* 39:207). Where only devices with a positive result are opened, "
    "the sensitivity stays close to its assumption: those jobs cannot tell it."
)
# A picture of more kinds than this is scrolled past, not read.
_MOST_DRAWN = 14

_HOW = """
- **Assumption** (prior) is what the set of assumptions expects of a new job at severity 2, before any job
  is counted. It is the start of the fit. Errors that the whole shop or a whole family shares are part of it.
- **Worth 12 jobs**: the assumption counts as much as 12 past jobs (prior effective sample size).
- **Record** counts the attempts at severity 2: how many were fixed. Attempts at other severities, and other
  repairs of the same jobs, are not counted here. The fit uses them.
- **Fit** (posterior) is the chance for a new job at severity 2 after the fit to the record.
- **Prior sensitivity** counts each assumption, and then each kind's own attempts, a little more and a little
  less (power-scaling). A chance is sensitive where this moves it by .05 or more (the threshold of Kallioinen,
  Paananen, Bürkner and Vehtari 2023, *Statistics and Computing* 34:57). **Both: they disagree** means
  sensitive to both, and counting either double moves the chance clearly (by a quarter of its standard
  deviation or more), in opposite directions. **Both, no clear disagreement** means sensitive to both, without
  that. A disagreement does not show whether the assumption, the record or the model is
  wrong.
"""


def standing_part(shop: Shop, found: ShopHistory | None) -> None:
    """Draw the kinds that disagree, then the chosen kinds as a chart and as a table."""
    rows = _rows(shop, _key(shop))
    standing = standing_of_kinds(rows, _pulled(shop, found))
    apart = [item for item in standing if item.conflict and item.conflict.decides is Decides.DISAGREE]
    if apart:
        st.header(_heading(len(apart)), anchor=False)
        st.markdown(
            "One of them, or the model, may be wrong. Check these kinds first. The comparison uses all "
            "severities and related kinds, so the count at severity 2 alone may not show the conflict."
        )
        for item in apart[:_FIRST]:
            _told(item)
        if apart[_FIRST:]:
            with st.expander(f"{len(apart) - _FIRST} more", key="assumption-more-apart"):
                for item in apart[_FIRST:]:
                    _told(item)
    elif any(item.conflict for item in standing):
        st.success("Assumption and record disagree on no damage kind.", icon=":material/check_circle:")
    st.header("Assumption, record and fit", anchor=False)
    chosen = _chosen(standing, apart, shop)
    if len(chosen) <= _MOST_DRAWN:
        words = standing_words([item.row for item in chosen])
        st.altair_chart(
            standing_chart([item.row for item in chosen]), theme=None, key="assumption-standing", alt=words
        )
    st.dataframe(
        pd.DataFrame([_line(item) for item in chosen]), hide_index=True,
        alt="Each damage kind: assumption, record and fit, at severity 2",
        column_config={"damage kind": st.column_config.TextColumn(width=190, pinned=True)},
    )  # fmt: skip
    st.caption(_READ)
    with st.expander("How we get this", type="compact"):
        st.markdown(_HOW)
    with st.expander("Checks: how often they are right", key="assumption-checks", on_change="rerun") as part:
        if part.open:
            _checks(shop)


def restate(kind: str) -> None:
    """Go to the part where an assumption is stated, about this kind."""
    st.session_state["assumption-kind"] = kind
    st.session_state["assumption-part"] = "state"


def _heading(count: int) -> str:
    kinds = "1 kind" if count == 1 else f"{count} kinds"
    return f"Prior-data conflict: assumption and record disagree on {kinds}"


def _told(item: KindStanding) -> None:
    assert item.conflict is not None
    with st.container(border=True, gap="xsmall", key=f"assumption-apart-{item.row.kind}"):
        st.markdown(f"**{literal(item.row.name)}**  \n{literal(conflict_words(item.row, item.conflict))}")
        st.button(
            "Restate this assumption", key=f"assumption-restate-{item.row.kind}", type="tertiary",
            icon=":material/edit:", on_click=restate, args=(item.row.kind,),
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
        "damage kind": item.row.name,
        PRIOR: estimate_words(item.row.prior),
        COUNTED: counted_words(item.row),
        POSTERIOR: estimate_words(item.row.posterior),
    } | ({"sensitive to": DECIDES_WORDS[item.conflict.decides]} if item.conflict else {})


def _checks(shop: Shop) -> None:
    rows = check_standing(shop.priors.repairs, shop.supply.checks, shop.catalogue)
    rows = tuple(sorted(rows, key=lambda row: -row.record.jobs))
    st.dataframe(
        pd.DataFrame([_check_line(row) for row in rows]), hide_index=True,
        alt="Each check: how often it is right, by assumption and with your record",
        column_config={"check": st.column_config.TextColumn(width=190, pinned=True)},
    )  # fmt: skip
    st.caption(_CHECKS_READ)


def _check_line(row: CheckStanding) -> dict[str, str]:
    before, after = row.prior, row.posterior
    return {
        "check": row.name,
        "finds a fault: assumption": estimate_words(before[0]),
        "finds a fault: with your record": estimate_words(after[0]),
        "clears a sound part: assumption": estimate_words(before[1]),
        "clears a sound part: with your record": estimate_words(after[1]),
        "record": check_counted_words(row),
    }


def _pulled(shop: Shop, found: ShopHistory | None) -> Sequence[KindConflict]:
    """How sensitive each kind is to assumption and record; nothing, and why on the page, where unknown."""
    posterior, priors = shop.posterior, shop.priors
    if "success" in posterior.manifest.belief_only:
        failed = "success" in posterior.manifest.refused
        why = "The fit failed its checks for chance of repair" if failed else "No job has been fitted yet"
        st.info(f"{why}. Until a fit passes, all chances are assumptions.")
        return ()
    if posterior.manifest.prior_hash != priors.digest:
        st.info(
            "The fit in use started from another set of assumptions, so prior sensitivity is not known. Run "
            "a new fit under **Model check** to see it."
        )
        return ()
    if found is None:
        return ()
    try:
        record = record_of_fit(posterior, found.arguments, shop.catalogue, found.history)
        return _conflicts(shop, record, (*_key(shop), record.digest))
    except TriageError as refusal:
        st.info(
            "The record has changed since the fit, so prior sensitivity is not known. Run a new fit under "
            f"**Model check** to see it.\n\n{listed(refusal)}"
        )
        return ()


@st.cache_resource(max_entries=4, show_spinner="Comparing each assumption with the record…")
def _conflicts(_shop: Shop, _record: History, key: tuple[str, ...]) -> Sequence[KindConflict]:
    return conflicts(_shop.posterior, _record, _shop.catalogue, _shop.priors)


@st.cache_resource(max_entries=4, show_spinner=False)
def _rows(_shop: Shop, key: tuple[str, ...]) -> Sequence[BesideRecord]:
    return beside_record(_shop.posterior, _shop.priors, _shop.catalogue)


def _key(shop: Shop) -> tuple[str, ...]:
    """What assumption and posterior depend on."""
    manifest = shop.posterior.manifest
    return manifest.folder, manifest.data_hash, shop.priors.digest, shop.catalogue.digest
