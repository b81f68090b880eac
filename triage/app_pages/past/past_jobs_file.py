"""How a spreadsheet is read: its columns, dates, numbers and words, each found and open to correction."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Any, Literal

import streamlit as st

from triage.app_pages.shared.literal import literal
from triage.domain.catalogue import Catalogue
from triage.domain.history import (
    COMEBACK_KINDS,
    ENDINGS,
    KNOWN_AT,
    LOOK_DEPTHS,
    LOOK_REASONS,
    OUTCOMES,
    REQUIRED,
    ROUTES,
    WHY_NOT,
)
from triage.ledger.history.column_mapping import ColumnMapping, as_date, as_number
from triage.ledger.history.history_cells import NUMBERS
from triage.ledger.history.mapping_guess import Guess, guess_mapping

LABELS = {
    "job": "Job number", "date": "Date received", "finding": "Damage", "outcome": "Outcome",
    "severity": "Severity", "minutes": "Bench minutes", "parts_cost": "Parts cost", "method": "Repair method",
    "why_not": "Why not attempted", "known_at": "Found during", "zone": "Location",
    "route": "Bought or walk-in", "tier": "Price class", "cause": "Cause", "technician": "Technician",
    "paid": "Price paid", "sold": "Sold for, or paid by the owner", "sold_date": "Date it left",
    "closed": "Date closed", "ending": "How the job ended", "hidden_faults": "Hidden faults",
    "comeback_date": "Comeback date", "comeback_kind": "Comeback reason", "warranty_days": "Warranty days",
    "working_price": "Resale value", "parts_value": "Parts value", "book_cost": "Parts cost estimated",
    "shelf_cost": "Cost of own parts", "intake_severity": "Severity at intake",
    "look_depth": "Depth of the look inside", "look_reason": "Reason for the look inside",
}  # fmt: skip
_LISTS: dict[str, tuple[str, ...]] = {
    "outcome": OUTCOMES, "why_not": WHY_NOT, "known_at": KNOWN_AT, "route": ROUTES, "ending": ENDINGS,
    "comeback_kind": COMEBACK_KINDS, "look_depth": LOOK_DEPTHS, "look_reason": LOOK_REASONS,
    "severity": ("1", "2", "3"), "intake_severity": ("1", "2", "3"),
}  # fmt: skip
_ROUTES = {"bought": "All bought by the shop", "walk-in": "All owners' devices", "": "Not known"}
# Words asked for at a time, the most frequent first.
_ASKED = 25


@dataclass(frozen=True)
class PastFile:
    """A file that somebody chose; its widgets are its own."""

    name: str
    data: bytes
    catalogue: Catalogue
    known: ColumnMapping | None

    def key(self, name: str) -> str:
        """Key of one widget."""
        return f"past-{hashlib.sha256(self.data).hexdigest()[:12]}-{name}"


def mapping_part(file: PastFile) -> ColumnMapping | None:
    """Draw how the file is read; the mapping, or None while something is open or it is no table."""
    found = guess_mapping(file.data, file.catalogue, known=file.known)
    if found is None:
        st.error("This is not a table: a header and rows of cells, divided by commas, semicolons or tabs.")
        return None
    columns = _columns(file, found)
    guess = guess_mapping(file.data, file.catalogue, columns, file.known)
    if guess is None or (missing := [c for c in REQUIRED if c != "job" and c not in columns]):
        st.info(f"Choose the column of: {', '.join(LABELS[column].lower() for column in missing)}.")
        return None
    mapping = _route(file, _numbers(file, guess, _dates(file, guess)))
    return _words(file, guess, mapping) if mapping else None


def _columns(file: PastFile, found: Guess) -> dict[str, str]:
    """The columns, the required ones in view."""
    st.subheader("Columns", anchor=False)
    st.caption("What was recognised is filled in. Without job numbers, each row counts as one job.")
    chosen = _choices(file, found, REQUIRED)
    more = [column for column in LABELS if column not in REQUIRED]
    met = sum(column in found.mapping.columns for column in more)
    with st.expander(f"More columns ({met} recognised)", key=file.key("more")):
        chosen |= _choices(file, found, more)
    doubled = sorted({title for title in chosen.values() if list(chosen.values()).count(title) > 1})
    if doubled:
        st.warning(f"Chosen more than once: {literal(', '.join(doubled))}.")
    return chosen


def _choices(file: PastFile, found: Guess, columns: Any) -> dict[str, str]:
    chosen = {}
    with st.grid(2, min_column_width=150, gap="xsmall"):
        for column in columns:
            theirs = found.mapping.columns.get(column)
            title = st.selectbox(
                LABELS[column], found.titles, found.titles.index(theirs) if theirs else None,
                key=file.key(f"column-{column}"), placeholder="not in this file",
                format_func=lambda title: _with_example(title, found),
            )  # fmt: skip
            if title is not None:
                chosen[column] = title
    return chosen


def _with_example(title: str, found: Guess) -> str:
    examples = found.examples.get(title, ())
    return f"{title} ({', '.join(example[:24] for example in examples[:2])})" if examples else title


def _dates(file: PastFile, guess: Guess) -> ColumnMapping | None:
    """Say how each column of dates is read; ask where a day may be a month."""
    mapping, settled = guess.mapping, {}
    st.subheader("Dates and amounts", anchor=False)
    for column, title in mapping.columns.items():
        form = mapping.own_dates.get(column, mapping.dates)
        example = next((e for e in guess.examples[title] if as_date(e, form)), "")
        if column in guess.open_dates:
            said = st.radio(
                literal(f"Dates under “{title}”, such as {example}"), guess.open_dates[column], None,
                key=file.key(f"dates-{column}"),
                format_func=partial(_read_as, example),
            )  # fmt: skip
            if said is None:
                st.info("Choose how these dates are written.")
                return None
            settled[column] = said
        elif example and column in ("date", "closed", "sold_date", "comeback_date"):
            st.caption(f"{literal(title)}: {literal(example)} is read as {_day(example, form)}.")
    return replace(mapping, own_dates={**mapping.own_dates, **settled})


def _numbers(file: PastFile, guess: Guess, mapping: ColumnMapping | None) -> ColumnMapping | None:
    """Ask where a point or comma may stand before decimals or before thousands."""
    if mapping is None:
        return None
    settled: dict[str, Any] = {}
    for column in guess.open_decimals:
        title = mapping.columns[column]
        example = next((e for e in guess.examples[title] if "." in e or "," in e), "")
        said = st.radio(
            literal(f"Amounts under “{title}”, such as {example}"), [".", ","], None,
            key=file.key(f"decimal-{column}"),
            format_func=partial(_worth, example),
        )  # fmt: skip
        if said is None:
            st.info("Choose what these amounts mean.")
            return None
        settled[column] = said
    for column, title in mapping.columns.items():
        mark = mapping.own_decimals.get(column, mapping.decimal)
        example = next((e for e in guess.examples[title] if "." in e or "," in e), "")
        if column in NUMBERS and column not in settled and example and as_number(example, mark):
            st.caption(f"{literal(title)}: {literal(example)} is read as {as_number(example, mark)}.")
    return replace(mapping, own_decimals={**mapping.own_decimals, **settled}, round_money=True)


def _route(file: PastFile, mapping: ColumnMapping | None) -> ColumnMapping | None:
    """Whose devices they were, where no column says so."""
    if mapping is None or "route" in mapping.columns:
        return mapping
    said = st.pills(
        "Whose devices?", list(_ROUTES), default=mapping.always.get("route", ""), required=True,
        format_func=_ROUTES.__getitem__, key=file.key("route"),
    )  # fmt: skip
    always = {name: text for name, text in mapping.always.items() if name != "route"}
    return replace(mapping, always={**always, "route": said} if said else always)


def _words(file: PastFile, guess: Guess, mapping: ColumnMapping) -> ColumnMapping:
    """What the file's own words mean; those that are like nothing known first."""
    meant: dict[str, dict[str, str]] = {}
    if guess.words:
        st.subheader("Words", anchor=False)
        st.caption("Matches are remembered for the next file. Rows with an unmatched word are left out.")
    for column, words in guess.words.items():
        known = mapping.words.get(column, {})
        open_ = [word for word in words if word not in known]
        meant[column] = {word: known[word] for word in known}
        st.markdown(f"**{LABELS[column]}**: {len(known)} matched, {len(open_)} to match")
        meant[column] |= _meanings(file, column, {word: words[word] for word in open_[:_ASKED]}, {})
        if len(open_) > _ASKED:
            st.caption(f"{len(open_) - _ASKED} rarer words follow once these are matched.")
        if known:
            title = f"Matched: {LABELS[column].lower()} ({len(known)})"
            with st.expander(title, key=file.key(f"met-{column}")):
                meant[column] |= _meanings(file, column, {word: words[word] for word in known}, known)
    told = {column: {word: ours for word, ours in said.items() if ours} for column, said in meant.items()}
    return replace(mapping, words={column: said for column, said in told.items() if said})


def _meanings(
    file: PastFile, column: str, words: Mapping[str, int], known: Mapping[str, str]
) -> dict[str, str]:
    names = _names(column, file.catalogue)
    said = {}
    with st.grid(2, min_column_width=150, gap="xsmall"):
        for word, count in words.items():
            digest = hashlib.sha256(word.encode()).hexdigest()[:10]
            meaning = st.selectbox(
                literal(f"{word} ({count} {'row' if count == 1 else 'rows'})"), list(names),
                list(names).index(known[word]) if known.get(word) in names else None,
                format_func=names.__getitem__, key=file.key(f"word-{column}-{digest}"),
                placeholder="leave out", filter_mode="contains",
            )  # fmt: skip
            said[word] = meaning or ""
    return said


def _names(column: str, catalogue: Catalogue) -> dict[str, str]:
    """What a word of a column may mean, by slug."""
    if column in ("finding", "hidden_faults"):
        kinds = {
            kind.slug: f"{kind.name}; also: {', '.join(kind.also)}" if kind.also else kind.name
            for kind in catalogue.kind
        }
        return {"none": "nothing hidden found", **kinds} if column == "hidden_faults" else kinds
    if column == "method":
        return {repair.slug: repair.name for repair in catalogue.repair}
    if column == "zone":
        return {zone.slug: zone.name for zone in catalogue.zone}
    return {word: word.replace("-", " ") for word in _LISTS[column]}


def _read_as(text: str, form: str) -> str:
    return f"{form}: {_day(text, form)}"


def _worth(text: str, mark: Literal[".", ","]) -> str:
    return literal(f"{text} is {as_number(text, mark) or 'no number'}")


def _day(text: str, form: str) -> str:
    day = as_date(text, form)
    return f"{day:%d %B %Y}".lstrip("0") if day else "?"
