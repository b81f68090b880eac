"""The device page, which answers one question about one device: what to do with it."""

from __future__ import annotations

import streamlit as st

from triage.app_pages import intake
from triage.app_pages.answer import show_answer
from triage.app_pages.draft import DEMO, EMPTY, Draft
from triage.app_pages.literal import literal
from triage.app_pages.shop_counter import answer, open_shop, read_unit, shop_files, turning_points
from triage.domain.units import Ownership, Unit
from triage.errors import InputError, TriageError
from triage.workflows.shop import Shop

# Nobody has looked yet: ownership is in doubt until somebody says otherwise.
_NOTHING = Unit(name="", tier="", ownership=Ownership(lock="cannot-tell", identity="not-checked"))


def page() -> None:
    """Draw the page: the description, folded once it is answered, then the answer."""
    st.title("What should I do with this one?", anchor=False)
    try:
        shop = open_shop()
    except TriageError as refusal:
        st.error(f"The shop's files cannot be used.\n\n{_listed(refusal)}")
        return
    draft = _current_draft()
    unit, refusal = _read(draft, shop)
    asked = draft != EMPTY
    with st.expander(
        intake.summary(unit, draft, shop) if unit else "Describe the device",
        expanded=unit is None,
        icon=":material/edit:",
        key=f"device-intake-{st.session_state['device-turn']}",
    ):
        if refusal:
            st.error(_listed(refusal))
        intake.intake(unit or _NOTHING, draft, shop, keep)
    if unit is None:
        if not asked:
            st.info("Say which tier it is and what is wrong with it, then press **Work it out**.")
        return
    try:
        assessment = answer(draft.toml, draft.ask, draft.walk_in)
    except TriageError as refusal:
        st.error(_listed(refusal))
        return
    show_answer(
        assessment,
        shop,
        shop_files().invented,
        lambda: turning_points(draft.toml, draft.ask, draft.walk_in),
    )


def keep(draft: Draft) -> None:
    """Make a draft the one this page answers, in the address too: it survives a reload."""
    state = st.session_state
    code = "" if draft == DEMO else draft.code
    state["device-draft"], state["device-code"] = draft, code
    state["device-turn"] = state.get("device-turn", -1) + 1
    if code:
        st.query_params["device"] = code
    else:
        st.query_params.pop("device", None)


def _current_draft() -> Draft:
    """The draft of this session, or of the address when that has changed (reload, Back)."""
    code = st.query_params.get("device", "")
    if st.session_state.get("device-code") != code:
        keep((Draft.from_code(code) or DEMO) if code else DEMO)
    return st.session_state["device-draft"]


def _read(draft: Draft, shop: Shop) -> tuple[Unit | None, InputError | None]:
    if draft == EMPTY:
        return None, None
    try:
        return read_unit(draft.toml, "the description", shop), None
    except InputError as refusal:
        return None, refusal


def _listed(refusal: TriageError) -> str:
    return "\n".join(f"- {literal(line)}" for line in str(refusal).splitlines())


if __name__ == "__main__":
    page()
