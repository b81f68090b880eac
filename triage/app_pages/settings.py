"""The settings page, which answers by which rates and rules this shop decides."""

from __future__ import annotations

from typing import Any

import streamlit as st

from triage.app_pages.shared.current_device import listed
from triage.app_pages.shared.literal import literal
from triage.app_pages.shared.next_step import next_step
from triage.app_pages.shared.page_head import page_head
from triage.app_pages.shared.shop_counter import shop_files
from triage.app_pages.shared.shop_record import record_url
from triage.domain.shop.settings import Settings, load_settings
from triage.errors import SettingsError
from triage.ledger.opening import ledger_url
from triage.reports.wording.settings import GROUPS, TAX_WORDS, SettingWords, all_settings
from triage.shipped import shipped
from triage.workflows.shop.own_settings import (
    forget_own_settings,
    keep_settings,
    own_settings_file,
    settings_values,
)
from triage.workflows.shop.shop import DEMO_SETTINGS

# Fields of the form that hold whole numbers.
_WHOLE = {"hold_days", "warranty_days", "price_age_days", "quoting.valid_days", "quoting.answer_days"}
_MOST = {"share": 100.0, "minutes": 10_000.0, "days": 3650.0, "money": 1e7, "hourly": 1e7}
_FILES = {"catalogue": "damage kinds", "priors": "beliefs", "posterior": "chances", "settings": "settings",
          "prices": "price book"}  # fmt: skip


def page() -> None:
    """Draw the settings as a form, what keeping them would change, and where the shop's files lie."""
    page_head("By which rates and rules do we decide?")
    files = shop_files()
    source = files.settings or shipped(DEMO_SETTINGS)
    try:
        settings = load_settings(source)
    except SettingsError as refusal:
        st.error(f"The settings cannot be used.\n\n{listed(refusal)}")
        _begin_again()
        return
    if done := st.session_state.pop("settings-done", None):
        st.success(done)
    if source not in (own_settings_file(), shipped(DEMO_SETTINGS)):
        st.info(
            f"These come from {literal(str(source))}, named when the program was started: change them there."
        )
    elif source != own_settings_file():
        st.info("These are the demo's, invented. Make them yours: look at every one, then keep them.")
    _form(settings, fixed=source not in (own_settings_file(), shipped(DEMO_SETTINGS)))
    st.caption(
        "Cautions for batteries and the rules on ownership are no settings: nothing here turns them off."
    )
    if source == own_settings_file():
        _begin_again()
    _where()


def _form(settings: Settings, fixed: bool) -> None:
    values = settings_values(settings)
    told: dict[str, Any] = {}
    with st.form("settings-form", border=False):
        for name, group in GROUPS.items():
            st.header(name, anchor=False)
            with st.grid(2, min_column_width=150, gap="xsmall"):
                for words in group:
                    told[words.place] = _field(words, values.get(words.place), settings.currency, fixed)
        kept = st.form_submit_button("Keep these settings", type="primary", disabled=fixed)
    if not kept:
        return
    try:
        changed = keep_settings({place: value for place, value in told.items() if value is not None})
    except SettingsError as refusal:
        st.error(f"Not kept.\n\n{listed(refusal)}")
        return
    labels = {words.place: words.label for words in all_settings()}
    lines = [
        f"- {literal(f'{labels[one.place]}: {_told(one.after)}, was {_told(one.before)}')}" for one in changed
    ]
    st.session_state["settings-done"] = "Kept as your own.\n\n" + ("\n".join(lines) or "Nothing was changed.")
    st.rerun()


def _field(words: SettingWords, value: Any, currency: str, fixed: bool) -> Any:
    """One field of the form, and what it says now."""
    key, help = f"settings-{words.place}", words.help or None
    if words.unit in ("text", "currency"):
        letters = 3 if words.unit == "currency" else 200
        return st.text_input(
            words.label, value, max_chars=letters, key=key, help=help, disabled=fixed
        ).strip()
    if words.unit == "tax":
        schemes = list(TAX_WORDS)
        return st.selectbox(
            words.label, schemes, schemes.index(value), format_func=TAX_WORDS.__getitem__, key=key, help=help,
            disabled=fixed,
        )  # fmt: skip
    if words.unit == "of 20":
        label = f"{words.label} (of 20)"
        return int(st.number_input(label, 0, 20, value, key=key, help=help, disabled=fixed))
    unit = {
        "share": "%",
        "minutes": "min",
        "days": "days",
        "money": currency,
        "hourly": f"{currency} an hour",
    }
    label, most = f"{words.label} ({unit[words.unit]})", _MOST[words.unit]
    if words.place in _WHOLE:
        return int(st.number_input(label, 0, int(most), value, key=key, help=help, disabled=fixed))
    least = -most if words.place.startswith("go_rule.") else 0.0
    scale = 100.0 if words.unit == "share" else 1.0
    shown = st.number_input(
        label, least, most, float(value) * scale, format="%g", step=1.0, key=key, help=help, disabled=fixed
    )
    # A value nobody touched goes back as it was read, not by way of a percentage.
    return value if shown == float(value) * scale else round(shown / scale, 10)


def _told(value: Any) -> str:
    return "not said" if value is None else f"{value:g}" if isinstance(value, int | float) else str(value)


def _begin_again() -> None:
    """The way back to the demo's settings."""
    if not own_settings_file().exists():
        return
    with st.popover("Begin again from the demo's settings"):
        st.markdown("Your own are set aside in a file beside them, not deleted.")
        st.button("Set ours aside", key="settings-forget", on_click=forget_own_settings)


def _where() -> None:
    """Where everything of this shop lies."""
    files = shop_files()
    with st.expander("Where this shop's files lie"):
        lines = [f"- record: {literal(ledger_url(record_url()).render_as_string(hide_password=True))}"]
        for name, words in _FILES.items():
            path = getattr(files, name)
            lines.append(f"- {words}: {literal(str(path)) if path else 'the demo' + chr(39) + 's'}")
        st.markdown("\n".join(lines))
        st.caption(
            "The price book, the damage kinds and the beliefs are files: name your own when you start the "
            "program (`triage app --help` says how). Prices of single parts go in under Parts."
        )


if __name__ == "__main__":
    page()
    next_step("settings")
