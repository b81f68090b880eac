"""The settings page: rates, rules, backup, and where the shop's files lie."""

from __future__ import annotations

import os
from dataclasses import replace
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import streamlit as st

from triage.app_pages.shared.at_the_bench import at_the_bench
from triage.app_pages.shared.current_device import listed
from triage.app_pages.shared.literal import literal
from triage.app_pages.shared.next_step import next_step
from triage.app_pages.shared.page_head import page_head
from triage.app_pages.shared.shop_counter import shop_files
from triage.app_pages.shared.shop_record import record_url, shop_record
from triage.domain.shop.settings import Settings, load_settings
from triage.errors import SettingsError, TriageError
from triage.ledger.opening import folder_of_record, ledger_url, shared_folder
from triage.reports.wording.settings import GROUPS, TAX_WORDS, SettingWords, all_settings
from triage.shipped import shipped
from triage.workflows.backup.back_up import back_up_shop
from triage.workflows.backup.daily_in_background import daily_copy_standing
from triage.workflows.backup.words import missing_words
from triage.workflows.jobs.forget import NOT_REACHED, forget_person, people_due
from triage.workflows.jobs.record_keeper import RecordKeeper
from triage.workflows.shop.own_settings import (
    forget_own_settings,
    keep_settings,
    own_settings_file,
    settings_values,
)
from triage.workflows.shop.shop import DEMO_SETTINGS, Shop
from triage.workflows.shop.shop_files import ShopFiles

_MOST_LABELS = 12
# Fields of the form that hold whole numbers.
_WHOLE = {
    "hold_days",
    "keep_people_days",
    "warranty_days",
    "price_age_days",
    "quoting.valid_days",
    "quoting.answer_days",
    "data.copy_days",
}
_MOST = {"share": 100.0, "minutes": 10_000.0, "days": 3650.0, "jobs": 10_000.0, "money": 1e7, "hourly": 1e7}
_FILES = {"catalogue": "damage kinds", "priors": "assumptions", "posterior": "chances",
          "settings": "settings", "prices": "price book"}  # fmt: skip


def page() -> None:
    """Draw the settings as a form, the backup, and where the shop's files lie."""
    shop = page_head("Settings")
    files = shop_files()
    source = files.settings or shipped(DEMO_SETTINGS)
    try:
        settings = load_settings(source)
    except SettingsError as refusal:
        st.error(
            "These settings cannot be used. Correct the file, or return to the demo settings.\n\n"
            f"{listed(refusal)}"
        )
        _back_to_demo()
        return
    if done := st.session_state.pop("settings-done", None):
        st.success(done)
    if source not in (own_settings_file(), shipped(DEMO_SETTINGS)):
        st.info(f"These settings come from {literal(str(source))}, named at program start. Change that file.")
    elif source != own_settings_file():
        st.info("These are the invented demo settings. Check each one, then save them as your own.")
    _form(settings, fixed=source not in (own_settings_file(), shipped(DEMO_SETTINGS)))
    st.caption(
        "Cautions for batteries and liquid and the rules on ownership are not settings. They cannot be "
        "turned off."
    )
    if source == own_settings_file():
        _back_to_demo()
    if shop is not None and settings.keep_people_days:
        _people(replace(shop, settings=settings))
    _backup(settings)
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
        kept = st.form_submit_button("Save settings", type="primary", disabled=fixed)
    if not kept:
        return
    try:
        changed = keep_settings({place: value for place, value in told.items() if value is not None})
    except SettingsError as refusal:
        st.error(f"Settings not saved.\n\n{listed(refusal)}")
        return
    labels = {words.place: words.label for words in all_settings()}
    lines = [
        f"- {literal(f'{labels[one.place]}: {_told(one.after)}, was {_told(one.before)}')}" for one in changed
    ]
    st.session_state["settings-done"] = "Settings saved.\n\n" + ("\n".join(lines) or "No value changed.")
    st.rerun()


def _field(words: SettingWords, value: Any, currency: str, fixed: bool) -> Any:
    """One field of the form, and its value now."""
    key, help = f"settings-{words.place}", words.help or None
    if words.unit in ("text", "currency"):
        letters = 3 if words.unit == "currency" else 1000 if words.place == "backup_folder" else 200
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
        label = f"{words.label} (in 20)"
        return int(st.number_input(label, 0, 20, value, key=key, help=help, disabled=fixed))
    unit = {
        "share": f"% of {words.of}" if words.of else "%",
        "minutes": "min",
        "days": f"days; {words.of}" if words.of else "days",
        "jobs": "jobs",
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
    return "blank" if value is None else f"{value:g}" if isinstance(value, int | float) else str(value)


def _back_to_demo() -> None:
    """The way back to the demo's settings."""
    if not own_settings_file().exists():
        return
    with st.popover("Return to demo settings"):
        st.markdown("Your settings are renamed, not deleted. The file stays in the same folder.")
        st.button("Use demo settings", key="settings-forget", on_click=forget_own_settings)


def _people(shop: Shop) -> None:
    """Personal data kept longer than the settings say, and the button that erases it."""
    ledger, _ = shop_record()
    if ledger is None:
        return
    keeper = RecordKeeper(ledger, shop, st.session_state.get("bench-hand") or "")
    due = people_due(keeper)
    if not due:
        return
    st.header("Personal data to erase", anchor=False)
    labels = ", ".join(literal(file.label) for file in due[:_MOST_LABELS])
    more = f" and {len(due) - _MOST_LABELS} more" if len(due) > _MOST_LABELS else ""
    st.markdown(f"These jobs ended more than {shop.settings.keep_people_days} days ago: {labels}{more}.")
    st.caption(f"Not erased: {literal(NOT_REACHED)}.")
    at_the_bench(ledger)
    if st.button("Erase personal data", key="settings-people"):
        try:
            for file in due:
                forget_person(keeper, file.id, file.version, shop.today, "retention time is over")
        except TriageError as refusal:
            st.error(listed(refusal))
            return
        st.session_state["settings-done"] = f"Personal data of {len(due)} jobs erased."
        st.rerun()


def _backup(settings: Settings) -> None:
    """Everything in one file: a download now, and a copy each day."""
    st.header("Backup", anchor=False)
    if settings.backup_folder:
        made, wrong = daily_copy_standing(settings.backup_folder, date.today())
        if made:
            st.markdown(literal(made))
        if wrong:
            st.warning(f"Today's backup was not made: {literal(wrong)}")
    else:
        st.markdown("No daily backup is made. Enter a folder for it above.")
    if st.button("Create backup", key="settings-backup"):
        try:
            with st.spinner("Creating the backup…"):
                content, missing = _backup_bytes()
        except TriageError as refusal:
            st.error(f"The backup was not created.\n\n{literal(str(refusal))}")
        else:
            if missing:
                st.warning("Not in the backup:\n" + "\n".join(f"- {literal(words)}" for words in missing))
            name = f"shop-{date.today().isoformat()}.zip"
            st.download_button("Download backup", content, name, "application/zip", on_click="ignore")
    st.caption(
        "A backup holds the record, settings, model prices, assumptions, learned chances, photographs and "
        "named files, but no passcodes. `triage restore FILE` restores it, also on another machine. With "
        "`--force`, existing files are renamed first."
    )


def _backup_bytes() -> tuple[bytes, list[str]]:
    """A backup made for a download, and what is not in it, in words; nothing of it stays on the disk."""
    on_server = ledger_url(record_url()).get_backend_name() != "sqlite"
    with TemporaryDirectory(prefix="backup-") as folder:
        named = ShopFiles.from_environment(os.environ)
        made = back_up_shop(Path(folder) / "shop.zip", record_url(), named, record=not on_server)
        return made.file.read_bytes(), [missing_words(one) for one in made.manifest.missing]


def _where() -> None:
    """Where everything of this shop lies."""
    files = shop_files()
    with st.expander("File locations"):
        lines = [f"- record: {literal(ledger_url(record_url()).render_as_string(hide_password=True))}"]
        for name, words in _FILES.items():
            path = getattr(files, name)
            lines.append(f"- {words}: {literal(str(path)) if path else 'the demo' + chr(39) + 's'}")
        url = ledger_url(record_url())
        lines.append(
            "- photographs, own settings, model prices, assumptions, learned chances: "
            + literal(str(folder_of_record(url)))
        )
        st.markdown("\n".join(lines))
        if url.get_backend_name() != "sqlite" and shared_folder() is None:
            st.warning(
                "The record is on a server, but this folder is on this machine only. Other benches have "
                "other settings and cannot see your photographs. Start every bench with `--shared` and one "
                "folder that all of them can reach."
            )
        st.caption(
            "Price book, damage kinds and assumptions are files. To use your own, name them when you start "
            "the program; see `triage app --help`. Add prices of single parts on the Parts page, and "
            "prices by model on the Model prices page."
        )


if __name__ == "__main__":
    page()
    next_step("settings")
