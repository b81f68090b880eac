"""The model prices page: a table of the shop's own models, edited, imported, exported and undone."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date

import pandas as pd
import streamlit as st

from triage.app_pages.shared.current_device import listed
from triage.app_pages.shared.literal import literal
from triage.app_pages.shared.next_step import next_step
from triage.app_pages.shared.once import form_key, once
from triage.app_pages.shared.page_head import page_head
from triage.app_pages.shared.shop_counter import shop_files
from triage.domain.catalogue import load_catalogue
from triage.domain.shop.model_csv import models_text, read_models_bytes
from triage.domain.shop.model_table import (
    COLUMNS,
    DEVICE,
    ModelChanges,
    TableRow,
    changes_between,
    read_table,
    table_rows,
)
from triage.domain.shop.price_book import ModelPrice
from triage.errors import SettingsError, TriageError
from triage.reports.wording.prices import age_words, changes_words, short_age
from triage.workflows.shop.own_models import (
    can_undo,
    dated,
    keep_models,
    merged,
    models_stamp,
    old_prices,
    own_models,
    part_names,
    undo_models,
    without_model,
)
from triage.workflows.shop.shop import Shop

_DEVICES = {
    "model": "Model",
    "price": "Fully working",
    "limited_price": "Limited function",
    "parts_good_display": "Parts, display intact",
    "parts_broken_display": "Parts, display broken",
    "checked_on": "Checked on",
}
_PARTS = {
    "model": "Model",
    "item": "Part",
    "price": "Price",
    "lead_shortest": "Shortest (days)",
    "lead_usual": "Usual (days)",
    "lead_longest": "Longest (days)",
    "checked_on": "Checked on",
}
# Of each table its title, which is also what a fault calls it.
_WHOLE, _OF_PARTS = "Resale and parts value", "Prices of parts"
_LABELS = {_WHOLE: _DEVICES, _OF_PARTS: _PARTS}
_ADD, _REPLACE = "Add and update", "Replace the whole list"
_MOST_OLD = 12
_HOW = """\
- One row is one price. The name of a model is yours; upper and lower case do not matter.
- An answer looks for the device's model here first. What the model does not have comes from its price class.
- Amounts may have a decimal point or a decimal comma. **1.240** is refused, because it can mean 1240 or 1.24.
- A price that you change here counts as checked today, unless you enter another day.
- **Limited function** is the resale value with one function lost. Without it, the loss is learned from sales.
- To delete rows, select them at the left edge of the table and press the bin. Then save.
"""

Rows = list[dict[str, str]]


def page() -> None:
    """Draw the table and what may be done with it as a whole."""
    shop = page_head("Model prices", "What each of your models sells for, and what its parts cost.")
    try:
        held = own_models()
    except SettingsError as refusal:
        _say_done()
        st.error(
            "Your model prices cannot be used. Undo the last save, or import a correct file with "
            f"**{_REPLACE}**.\n\n{listed(refusal)}"
        )
        _undo()
        _import((), _part_names())
        return
    if shop is None:
        return
    names, limit = part_names(shop.catalogue), shop.settings.price_age_days
    if not held:
        st.info(
            "No model has its own prices yet: every device is priced by its price class. Enter a model in "
            "the table, or import a file."
        )
    _old(held, names, limit)
    _table(held, names, shop)
    with st.container(horizontal=True):
        st.download_button(
            "Download CSV", models_text(held).encode("utf-8"), "model-prices.csv", "text/csv",
            icon=":material/download:", on_click="ignore", key="models-export",
        )  # fmt: skip
        _undo()
    _import(held, names)
    if held:
        _delete(held)
    with st.expander("How prices by model work"):
        st.markdown(_HOW)


def _part_names() -> dict[str, str] | None:
    """Names of the parts while the shop cannot be opened; None where its catalogue cannot be read."""
    try:
        return part_names(load_catalogue(shop_files().catalogue))
    except TriageError:
        return None


def _do(act: Callable[[], ModelChanges], done: str) -> None:
    """Save, and say what changed; show what is refused."""
    told: list[ModelChanges] = []
    try:
        once("models", lambda: told.append(act()))
    except SettingsError as refusal:
        st.error(f"Nothing was saved.\n\n{listed(_labelled(refusal))}")
        return
    st.session_state["models-done"] = f"{done}: {changes_words(told[0])}." if told else f"{done}."
    st.rerun()


def _labelled(refusal: SettingsError) -> SettingsError:
    """The same faults; those in a table of the page under the names of its columns."""
    return SettingsError(
        replace(one, field=_LABELS.get(one.file, {}).get(one.field, one.field)) for one in refusal.faults
    )


def _say_done() -> None:
    """What the last save did, once."""
    if done := st.session_state.pop("models-done", None):
        st.success(done)


# -- the table -------------------------------------------------------------------------
def _table(held: tuple[ModelPrice, ...], names: Mapping[str, str], shop: Shop) -> None:
    seen, limit, currency = models_stamp(), shop.settings.price_age_days, shop.settings.currency
    rows = [{**row, "item": names.get(row["item"], row["item"])} for row in table_rows(held)]
    whole, parts = st.tabs([f"{title} ({currency})" for title in _LABELS])
    with whole:
        devices = _editor(
            [row for row in rows if row["item"] == DEVICE], _DEVICES, limit, "Resale value by model"
        )
    with parts:
        priced = _editor(
            [row for row in rows if row["item"] != DEVICE], _PARTS, limit, "Prices of parts by model"
        )
    edited = [{**row, "item": DEVICE} for row in devices], priced
    pending = changes_between(rows, [row for row in (*edited[0], *edited[1]) if _filled(row)])
    wanted = st.button("Save prices", type="primary", key=form_key("models", "models-save"))
    # Beneath the table and its button: what comes and goes above them would move them under a finger.
    _say_done()
    if pending != ModelChanges():
        st.caption(f":material/edit: Not saved yet: {changes_words(pending)}.")
    if wanted:
        _do(lambda: _kept(edited, held, names, seen), "Prices saved")


def _editor(rows: Rows, columns: Mapping[str, str], limit: int, alt: str) -> Rows:
    """One editable table; its cells as text, blank rows among them."""
    today = date.today()
    shown = [{name: row[name] for name in columns} | {"age": _age(row, today, limit)} for row in rows]
    frame = pd.DataFrame(shown, columns=[*columns, "age"], dtype="str")
    text = st.column_config.TextColumn
    edited = st.data_editor(
        frame,
        key=form_key("models", f"models-{'item' in columns}-{models_stamp()[:12]}"),
        num_rows="dynamic",
        hide_index=True,
        alt=alt,
        placeholder="",
        column_config={name: text(label, pinned=name == "model") for name, label in columns.items()}
        | {"age": text("Age", disabled=True)},
    )
    cells = edited[list(columns)].fillna("").astype(str).to_dict("records")
    return [{str(name): str(cell) for name, cell in row.items()} for row in cells]


def _age(row: Mapping[str, str], today: date, limit: int) -> str:
    day = row["checked_on"]
    return short_age((today - date.fromisoformat(day)).days if day else None, limit)


def _filled(row: Mapping[str, str]) -> bool:
    return any(cell.strip() for name, cell in row.items() if name != "item" or cell != DEVICE)


def _kept(
    edited: tuple[Rows, Rows], held: tuple[ModelPrice, ...], names: Mapping[str, str], seen: str
) -> ModelChanges:
    """Read both tables and save them as one."""
    today = date.today()
    slugs = {name.casefold(): slug for slug, name in names.items()}
    told = []
    for title, rows in zip(_LABELS, edited, strict=True):
        known = [{**row, "item": slugs.get(row["item"].strip().casefold(), row["item"])} for row in rows]
        filled = [row if _filled(row) else {} for row in known]
        told += [TableRow(title, line, row) for line, row in enumerate(dated(filled, held, today), 1)]
    return keep_models(read_table(told, names, today), seen)


def _old(held: tuple[ModelPrice, ...], names: Mapping[str, str], limit: int) -> None:
    """Prices that are too old, or have no date."""
    old = old_prices(held, date.today(), limit)
    if not old:
        return
    lines = [
        f"- {literal(f'{model}, {names.get(item, item)}')}: {age_words(age, limit)}"
        for model, item, age in old[:_MOST_OLD]
    ]
    if len(old) > _MOST_OLD:
        lines.append(f"- and {len(old) - _MOST_OLD:,} more")
    with st.expander(f"Prices to check again: {len(old):,}", icon=":material/schedule:"):
        st.markdown("\n".join(lines))
        st.caption(
            "Old prices still count. A part's price that is old, or has no date, stands in the notes of an "
            "answer as not confirmed. The limit is under Settings."
        )


# -- the list as a whole ---------------------------------------------------------------
def _undo() -> None:
    if can_undo() and st.button(
        "Undo last save", key=form_key("models", "models-undo"), icon=":material/undo:"
    ):
        _do(undo_models, "Last save undone")


def _delete(held: tuple[ModelPrice, ...]) -> None:
    with st.expander("Delete a model"), st.form(form_key("models", "models-delete"), border=False):
        which = st.selectbox(
            "Model to delete", [entry.model for entry in held], index=None, placeholder="choose",
            key=form_key("models", "models-delete-which"),
        )  # fmt: skip
        if st.form_submit_button("Delete model", key=form_key("models", "models-delete-go")):
            if which is None:
                st.error("Choose a model.")
            else:
                seen = models_stamp()
                _do(lambda: keep_models(without_model(own_models(), which), seen), "Model deleted")


def _import(held: tuple[ModelPrice, ...], names: Mapping[str, str] | None) -> None:
    with st.expander("Import prices"):
        file = st.file_uploader(
            "Price list (CSV)", type=["csv", "txt"], max_upload_size=5, key=form_key("models", "models-file")
        )
        pasted = st.text_area(
            "Or paste rows from a spreadsheet, with the header",
            height=120,
            key=form_key("models", "models-paste"),
        )
        st.caption(
            f"Columns: {', '.join(COLUMNS)}. In **item**, enter `{DEVICE}` or a part. **model**, **item** "
            "and **price** are required. Either all rows are imported or none."
        )
        how = st.segmented_control(
            "Rows in your list",
            [_ADD, _REPLACE],
            default=_ADD,
            required=True,
            key=form_key("models", "models-how"),
        )
        if not st.button("Import prices", key=form_key("models", "models-import")):
            return
        content, name = (file.getvalue(), file.name) if file else (pasted.encode("utf-8"), "pasted rows")
        seen = models_stamp()

        def taken() -> ModelChanges:
            new = read_models_bytes(content, name, names, date.today())
            return keep_models(new if how == _REPLACE else merged(held, new), seen)

        _do(taken, "Prices imported")


if __name__ == "__main__":
    page()
    next_step("model_prices")
