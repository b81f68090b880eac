"""Cautions on a page, and the mark of a stop point."""

from __future__ import annotations

from collections.abc import Collection

import streamlit as st

from triage.app_pages.shared.literal import literal
from triage.domain.catalogue_entries import Caution

STOP_POINT = ":red[:material/front_hand: **Stop point**]"


def show_cautions(cautions: tuple[Caution, ...], said: Collection[str] = ()) -> None:
    """Draw cautions in one open box: whole, or title and rule where the whole was said before."""
    if cautions:
        words = (caution_words(caution, 1 if caution.slug in said else None) for caution in cautions)
        st.warning("\n\n".join(words), icon=":material/warning:")


def folded_cautions(cautions: tuple[Caution, ...]) -> None:
    """Draw cautions whose titles are in sight, and the whole of them once they are unfolded."""
    if not cautions:
        return
    titles = "; ".join(literal(caution.title) for caution in cautions)
    with st.expander(f"Take care: {titles}", type="compact", icon=":material/warning:"):
        for caution in cautions:
            st.markdown(caution_words(caution))


def caution_words(caution: Caution, lines: int | None = None) -> str:
    """Return title and rule of a caution, or so many of its lines, as markdown."""
    return f"**{literal(caution.title)}.** {literal(' '.join(caution.lines[:lines]))}"
