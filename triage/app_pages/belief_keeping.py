"""Keeping beliefs in a named set of the shop's own: which set is changed, its name, what came of it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import streamlit as st

from triage.app_pages.kept_device import listed
from triage.app_pages.literal import literal
from triage.app_pages.shop_counter import shop_files
from triage.errors import TriageError
from triage.priors.saved_sets import SavedSet
from triage.reports.belief_words import change_words, double_use_words
from triage.workflows.own_sets import OwnSet, own_sets
from triage.workflows.shop import Shop, beliefs_folder

_FIT_HEALTH = Path(__file__).with_name("fit_health.py")


def sets_here(shop: Shop) -> tuple[OwnSet, ...]:
    """The set in use, then the shop's own."""
    files = shop_files()
    return own_sets(beliefs_folder(files.priors, files.catalogue), shop.catalogue)


def base_set(shop: Shop, key: str) -> OwnSet:
    """Ask which set is to be changed, where there is more than the one in use."""
    sets = [item for item in sets_here(shop) if not item.problem]
    names = [item.words for item in sets]
    if len(names) == 1:
        return sets[0]
    chosen = st.selectbox("Which set of beliefs?", names, key=key, persist_state="session")
    return sets[names.index(chosen)] if chosen in names else sets[0]


def name_asked(base: OwnSet, key: str) -> str:
    """Ask under which name the changed set is kept: its own, or a new one that starts from it."""
    typed = st.text_input(
        "Keep it in the set called", "" if base.in_use else base.name, max_chars=40,
        key=f"{key}-{base.name}", placeholder="a name of your own",
        help="A new name makes a new set that starts from the one above; its own name changes that set.",
    )  # fmt: skip
    return (typed or "").strip()


def keep(save: Callable[[], SavedSet]) -> None:
    """Save, and say what was changed and when it counts; or why not."""
    try:
        saved = save()
    except TriageError as refusal:
        st.error(listed(refusal))
        return
    changes = [f"- {literal(change_words(change))}" for change in saved.changes]
    st.success(f"Kept in the set **{literal(saved.folder.name)}**.", icon=":material/check_circle:")
    st.markdown("\n".join(changes or ["- nothing differs from the set it came from"]))
    if words := double_use_words(saved.priors.tuned):
        st.caption(literal(words))
    when_it_counts(saved.folder)


def when_it_counts(folder: Path) -> None:
    """Say that a set counts from the next fit on, and where that is made."""
    st.caption(
        "No chance changes today: a belief counts from the next fit that starts from this set. It lies in "
        f"`{folder}`; `triage fit --priors` and `triage app --priors` take that folder."
    )
    if _FIT_HEALTH.exists():
        st.page_link(_FIT_HEALTH, label="To Fit health", icon=":material/monitor_heart:")
