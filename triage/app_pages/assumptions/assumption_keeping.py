"""Keeping beliefs in a named set of the shop's own: which set is changed, its name, what came of it."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import streamlit as st

from triage.app_pages.shared.current_device import listed
from triage.app_pages.shared.literal import literal
from triage.app_pages.shared.pages import PAGES
from triage.app_pages.shared.shop_counter import shop_files
from triage.errors import TriageError
from triage.priors.saved_sets import SavedSet
from triage.reports.wording.assumption import change_words, double_use_words
from triage.workflows.shop.own_sets import OwnSet, choose_set, own_sets, sets_home
from triage.workflows.shop.shop import Shop, beliefs_folder
from triage.workflows.shop.shop_files import ShopFiles


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
    )  # fmt: skip
    own = "" if base.in_use else f"; the name {literal(base.name)} changes that set"
    st.caption(f"A new name makes a new set that starts from {literal(base.words)}{own}.")
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
    """Say that a set counts from the next fit on, and offer to start that from it."""
    st.caption(
        "No chance changes today: a belief counts from the next fit that starts from its set. This one lies "
        f"in {literal(str(folder))}."
    )
    if ShopFiles.from_environment(os.environ).priors is not None:
        st.caption("This server was started with beliefs of its own (`--priors`) and goes on using them.")
    elif folder.parent == sets_home():
        st.button(
            "Start the next fit from this set", icon=":material/flag:", key=f"assumption-use-{folder.name}",
            on_click=use, args=(folder.name,),
        )  # fmt: skip
    st.page_link(
        PAGES["model_check"], label="To Fit health, where learning is started", icon=":material/science:"
    )


def go_back() -> None:
    """Offer to put the set that was chosen out of use."""
    st.button("Go back to the set the shop came with", key="assumption-go-back", on_click=use, args=(None,))


def use(name: str | None) -> None:
    """Make a set the one in use; None goes back to the one the shop came with."""
    try:
        choose_set(name)
    except TriageError as refusal:
        st.toast(literal(str(refusal)), icon=":material/error:")
        return
    st.toast(
        f"In use: {literal(name) if name else 'the set the shop came with'}. Learn anew under Fit health.",
        icon=":material/flag:",
    )
