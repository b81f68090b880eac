"""An act that writes is done once, however often its button is pressed.

A second press stops the script that the first one started. What that script would then keep in its session is
lost, so what was done is remembered here, by the form that asked for it.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from uuid import uuid4

import streamlit as st

# Forms of so many acts are remembered: far more than are pressed within a second.
_REMEMBERED = 1000


class _Done:
    """Forms whose act was done. One act at a time: a second press waits, then sees what the first did."""

    def __init__(self) -> None:
        self.lock = threading.Lock()
        self.forms: dict[str, None] = {}

    def add(self, form: str) -> None:
        self.forms[form] = None
        while len(self.forms) > _REMEMBERED:
            self.forms.pop(next(iter(self.forms)))


@st.cache_resource(show_spinner=False)
def _done() -> _Done:
    return _Done()


def form_key(page: str, name: str) -> str:
    """Key of a form, or of a widget in it: an act that was done starts the forms of its page anew."""
    turn = st.session_state.get(f"{page}-turn", 0)
    return f"{name}-{turn}" if turn else name


def once(page: str, act: Callable[[], object]) -> None:
    """Do an act of a page's forms, and start the forms anew unless the act raises something."""
    state, done = st.session_state, _done()
    turn = state.get(f"{page}-turn", 0)
    form = f"{state.setdefault('once-session', uuid4().hex)}-{page}-{turn}"
    with done.lock:
        if form not in done.forms:
            act()
            done.add(form)
    state[f"{page}-turn"] = turn + 1
