"""What a foreign spreadsheet most likely says: its columns, its dates and numbers, its words.

Everything found is a `ColumnMapping` to look through and correct, and what the file
leaves open is asked, never chosen: a day that may as well be a month, a point that
may as well group thousands, a word that is like nothing known.
"""

from __future__ import annotations

import codecs
import csv
import re
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Literal

from triage.domain.catalogue import Catalogue
from triage.ledger.history.column_mapping import ColumnMapping, Encoding, as_date, as_number
from triage.ledger.history.history_cells import (
    COLUMNS,
    DATES,
    NUMBERS,
    Refused,
    cell_readers,
    csv_lines,
)
from triage.ledger.history.word_guess import COLUMN_WORDS, like_kind, like_word, plain

Mark = Literal[".", ","]
Delimiter = Literal[",", ";", "|", ":", "tab"]
_DELIMITERS: dict[Delimiter, str] = {",": ",", ";": ";", "tab": "\t", "|": "|"}
DATE_FORMATS = (
    "YYYY-MM-DD", "DD.MM.YYYY", "DD/MM/YYYY", "MM/DD/YYYY", "DD-MM-YYYY", "MM-DD-YYYY", "YYYY/MM/DD",
    "DD.MM.YY", "DD/MM/YY", "MM/DD/YY",
)  # fmt: skip
# Columns whose cells are words of a closed list.
WORD_COLUMNS = (
    "finding", "outcome", "severity", "intake_severity", "why_not", "known_at", "route", "ending",
    "hidden_faults", "comeback_kind", "look_depth", "look_reason", "method", "zone",
)  # fmt: skip
_GROUPED = re.compile(r"[0-9]{1,3}([.,])[0-9]{3}")


@dataclass(frozen=True)
class Guess:
    """What was found in a file, and what it leaves open.

    titles : the file's own columns. examples : by title, some of its values.
    words : by column of ours, how often each of the file's words stands there that is none of ours.
    open_dates : by column of ours, formats that read it equally well.
    open_decimals : columns of ours whose numbers can be read two ways.
    """

    mapping: ColumnMapping
    titles: tuple[str, ...]
    examples: dict[str, tuple[str, ...]]
    words: dict[str, dict[str, int]] = field(default_factory=dict)
    open_dates: dict[str, tuple[str, ...]] = field(default_factory=dict)
    open_decimals: tuple[str, ...] = ()


def guess_mapping(
    data: bytes,
    catalogue: Catalogue,
    columns: Mapping[str, str] | None = None,
    known: ColumnMapping | None = None,
) -> Guess | None:
    """Find out how a file is written; None where it is no table of text.

    Parameters
    ----------
    columns : ours = theirs where somebody said so; found by their titles when None.
    known : a mapping used before: what it says of columns and words this file has stands.
    """
    encoding, text = _text(data)
    delimiter, lines = _table(text)
    if len(lines) < 2:
        return None
    titles, rows = lines[0], [cells for cells in lines[1:] if len(cells) == len(lines[0])]
    known = known or ColumnMapping()
    if columns is None:
        columns = _columns(titles, known)
    at = {ours: titles.index(theirs) for ours, theirs in columns.items() if theirs in titles}
    values = {ours: Counter(cells[place] for cells in rows if cells[place]) for ours, place in at.items()}
    dates, open_dates = _dates({ours: values[ours] for ours in DATES if ours in values})
    marks, open_decimals = _decimals({ours: values[ours] for ours in NUMBERS if ours in values})
    usual = _most(dates.values(), "YYYY-MM-DD")
    mark = _most(marks.values(), ".")
    mapping = replace(
        ColumnMapping(),
        encoding=encoding, delimiter=delimiter, currency=known.currency, round_money=known.round_money,
        dates=usual, own_dates={ours: said for ours, said in dates.items() if said != usual},
        decimal=mark, own_decimals={ours: said for ours, said in marks.items() if said != mark},
        one_job_a_row="job" not in at, columns={ours: titles[place] for ours, place in at.items()},
        always={ours: said for ours, said in known.always.items() if ours not in at},
    )  # fmt: skip
    words = _strange_words(values, catalogue)
    guessed = {ours: _meanings(ours, found, catalogue, known) for ours, found in words.items()}
    return Guess(
        replace(mapping, words={ours: said for ours, said in guessed.items() if said}),
        tuple(titles),
        {title: _examples(rows, place) for place, title in enumerate(titles)},
        words, open_dates, open_decimals,
    )  # fmt: skip


def _text(data: bytes) -> tuple[Encoding, str]:
    """Text of the file; what begins with a mark of its encoding, or is UTF-8, is that, else cp1252."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16", data.decode("utf-16", errors="replace")
    try:
        return "utf-8", data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return "cp1252", data.decode("cp1252", errors="replace")


def _table(text: str) -> tuple[Delimiter, list[list[str]]]:
    """Cells by the delimiter that makes the widest even table."""
    best: tuple[Delimiter, list[list[str]]] = (",", [])
    most = 0
    for name, mark in _DELIMITERS.items():
        try:
            lines = [[cell.strip() for cell in cells] for _, cells in csv_lines(text, mark)]
        except csv.Error:
            continue
        lines = [cells for cells in lines if any(cells)]
        even = sum(len(cells) == len(lines[0]) for cells in lines[:200]) if lines else 0
        if lines and len(lines[0]) > 1 and even * len(lines[0]) > most:
            best, most = (name, lines), even * len(lines[0])
    return best


def _columns(titles: Sequence[str], known: ColumnMapping) -> dict[str, str]:
    """Ours = theirs, each of theirs once: as used before, by our own name, by the words of other shops."""
    found = {ours: theirs for ours, theirs in known.columns.items() if theirs in titles}
    for close in (False, True):
        for ours in COLUMNS:
            for title in titles:
                if ours not in found and title not in found.values() and _means(title, ours, close):
                    found[ours] = title
    return {ours: found[ours] for ours in COLUMNS if ours in found}


def _means(title: str, ours: str, close: bool) -> bool:
    said = plain(title)
    words = (plain(ours), *COLUMN_WORDS.get(ours, ()))
    return any(f" {word} " in f" {said} " for word in words) if close else said in words


def _dates(columns: Mapping[str, Counter[str]]) -> tuple[dict[str, str], dict[str, tuple[str, ...]]]:
    """Format of each column of dates, and where several read it equally well which."""
    found, open_ = {}, {}
    for ours, texts in columns.items():
        read = {form: sum(n for text, n in texts.items() if as_date(text, form)) for form in DATE_FORMATS}
        most = max(read.values())
        best = tuple(form for form in DATE_FORMATS if read[form] == most)
        if most:
            found[ours] = best[0]
            days = {tuple(as_date(text, form) for text in texts) for form in best}
            if len(days) > 1:
                open_[ours] = best
    settled = [form for ours, form in found.items() if ours not in open_]
    for ours, best in list(open_.items()):  # another column of the same file tells
        same = [form for form in best if form in settled]
        if len(same) == 1:
            found[ours] = same[0]
            del open_[ours]
    return found, open_


def _decimals(columns: Mapping[str, Counter[str]]) -> tuple[dict[str, Mark], tuple[str, ...]]:
    """The mark before decimals in each column of numbers, and in which it may be either."""
    found: dict[str, Mark] = {}
    open_ = []
    for ours, texts in columns.items():
        marks: tuple[Mark, Mark] = (".", ",")
        read = {mark: [as_number(text, mark) for text in texts] for mark in marks}
        if read["."] == read[","]:
            continue
        count = {mark: sum(number is not None for number in read[mark]) for mark in marks}
        found[ours] = max(marks, key=count.__getitem__)
        if count["."] == count[","]:
            open_.append(ours)
    told = {mark for ours, mark in found.items() if ours not in open_ and _has_mark(columns[ours])}
    if len(told) == 1:  # one file is written by one hand
        found |= dict.fromkeys(open_, told.pop())
        open_ = []
    return found, tuple(open_)


def _has_mark(texts: Iterable[str]) -> bool:
    return any(("." in text or "," in text) and not _GROUPED.fullmatch(text) for text in texts)


def _most(said: Iterable[Any], otherwise: Any) -> Any:
    counted = Counter(said).most_common(1)
    return counted[0][0] if counted else otherwise


def _strange_words(values: Mapping[str, Counter[str]], catalogue: Catalogue) -> dict[str, dict[str, int]]:
    """Words of the file that the plain format does not know, most frequent first."""
    readers = cell_readers(catalogue)
    strange: dict[str, dict[str, int]] = {}
    for ours in WORD_COLUMNS:
        parts: Counter[str] = Counter()
        for text, count in values.get(ours, Counter()).items():
            for part in text.split(";") if ours == "hidden_faults" else [text]:
                if part.strip() and not _reads(readers[ours], part.strip()):
                    parts[part.strip()] += count
        if parts:
            strange[ours] = dict(parts.most_common())
    return strange


def _reads(read: Callable[[str], Any], text: str) -> bool:
    try:
        read(text)
    except Refused:
        return False
    return True


def _meanings(
    ours: str, found: Mapping[str, int], catalogue: Catalogue, known: ColumnMapping
) -> dict[str, str]:
    said = known.words.get(ours, {})
    kinds = ours in ("finding", "hidden_faults")
    meanings = {
        word: said.get(word) or (like_kind(word, catalogue) if kinds else like_word(ours, word))
        for word in found
    }
    return {word: meaning for word, meaning in meanings.items() if meaning}


def _examples(rows: Sequence[Sequence[str]], place: int) -> tuple[str, ...]:
    return tuple(dict.fromkeys(cells[place] for cells in rows[:200] if cells[place]))[:3]
