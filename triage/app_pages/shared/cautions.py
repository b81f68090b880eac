"""Cautions on a page, and the mark of a stop point."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType

import streamlit as st

from triage.app_pages.shared.literal import literal
from triage.domain.catalogue_entries import Caution
from triage.reports.wording.cautions import ABOVE

_HERE: Mapping[str, int | None] = MappingProxyType({})
STOP_POINT = ":red[:material/front_hand: **Stop point:**]"


def show_cautions(cautions: tuple[Caution, ...], elsewhere: Mapping[str, int | None] = _HERE) -> None:
    """Draw cautions in one open box: whole, or title and rule where the whole stands elsewhere.

    Parameters
    ----------
    elsewhere : by slug, the step of the plan at which the whole stands; None where it is no step of a plan.
    """
    if not cautions:
        return
    words = []
    for caution in cautions:
        text = caution_words(caution, 1 if caution.slug in elsewhere else None)
        number = elsewhere.get(caution.slug)
        words.append(text + (f" (full text: {_step_link(number)})" if number else ""))
    st.warning("\n\n".join(words), icon=":material/warning:")


def said_before(before: Iterable[tuple[Caution, int]]) -> None:
    """Name cautions that were said whole before, in one line, each with a link to where."""
    told = (
        f"{literal(caution.title)} ({_step_link(number) if number != ABOVE else 'see above'})"
        for caution, number in before
    )
    if line := "; ".join(told):
        st.caption(f":material/warning: {line}")


def step_anchor(number: int) -> None:
    """Where a link to a step of the plan leads."""
    st.html(f'<span id="step-{number}"></span>')


def _step_link(number: int) -> str:
    return f"[step {number}](#step-{number})"


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
