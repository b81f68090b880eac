"""Saving assumptions in a named set of the shop's own: which set is changed, its name, the result."""

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
    chosen = st.selectbox("Which set of assumptions?", names, key=key, persist_state="session")
    return sets[names.index(chosen)] if chosen in names else sets[0]


def name_asked(base: OwnSet, key: str) -> str:
    """Ask under which name the changed set is kept: its own, or a new one that starts from it."""
    typed = st.text_input(
        "Name of the set", "" if base.in_use else base.name, max_chars=40,
        key=f"{key}-{base.name}", placeholder="your own name for it",
    )  # fmt: skip
    own = "" if base.in_use else f". The name {literal(base.name)} changes that set"
    st.caption(f"A new name makes a new set, copied from {literal(base.words)}{own}.")
    return (typed or "").strip()


def keep(save: Callable[[], SavedSet]) -> None:
    """Save, and say what was changed and when it takes effect; or why not."""
    try:
        saved = save()
    except TriageError as refusal:
        st.error(listed(refusal))
        return
    changes = [f"- {literal(change_words(change))}" for change in saved.changes]
    st.success(f"Saved in the set **{literal(saved.folder.name)}**.", icon=":material/check_circle:")
    st.markdown("\n".join(changes or ["- No value differs from the set it was copied from."]))
    if words := double_use_words(saved.priors.tuned):
        st.caption(literal(words))
    when_it_counts(saved.folder)


def when_it_counts(folder: Path) -> None:
    """Say that a set takes effect at the next fit, and offer to use it there."""
    st.caption(
        "No chance changes yet. An assumption takes effect at the next fit that uses its set. This set is in "
        f"{literal(str(folder))}."
    )
    if ShopFiles.from_environment(os.environ).priors is not None:
        st.caption("This server was started with `--priors`, so it keeps using that set.")
    elif folder.parent == sets_home():
        st.button(
            "Use this set in the next fit", icon=":material/flag:", key=f"assumption-use-{folder.name}",
            on_click=use, args=(folder.name,),
        )  # fmt: skip
    st.page_link(PAGES["model_check"], label="Open Model check to run a fit", icon=":material/science:")


def go_back() -> None:
    """Offer to stop using the chosen set."""
    st.button("Use the original set again", key="assumption-go-back", on_click=use, args=(None,))


def use(name: str | None) -> None:
    """Make a set the one in use; None goes back to the original one."""
    try:
        choose_set(name)
    except TriageError as refusal:
        st.toast(literal(str(refusal)), icon=":material/error:")
        return
    st.toast(
        f"In use: {literal(name) if name else 'the original set'}. Run a new fit under Model check.",
        icon=":material/flag:",
    )
