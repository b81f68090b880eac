"""Lines of terminal text: indented, wrapped, with figures at the right edge."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from rich.console import Console
from rich.table import Table
from rich.text import Text

from triage.errors import Fault

# A screen of 40 lines, less the one that the next command is typed on.
SCREEN = 39
FULL = "--full prints all"
_GAP = 2
# Of faults on a screen that has more to say: how many, and three lines of each.
_MOST_FAULTS, _FAULT_LETTERS = 3, 230


def printable(text: str) -> str:
    """Keep a user's words from steering the terminal: control characters become marks."""
    return "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text)


@dataclass(frozen=True)
class Line:
    """One line before it is wrapped.

    head : what its text hangs from, such as "3. ".
    figures : what stands at the right edge.
    """

    text: str
    figures: str = ""
    head: str = ""
    indent: int = 0
    style: str = ""


def rows(lines: Iterable[Line], console: Console) -> list[Text]:
    """Wrap lines to the width of a console."""
    return [row for line in lines for row in _wrapped(line, console)]


def print_lines(lines: Iterable[Line], console: Console) -> None:
    """Print lines, wrapped."""
    for row in rows(lines, console):
        console.print(row)


def first_faults(faults: Sequence[Fault], full: bool) -> list[Line]:
    """Faults of a file as lines: all of them, or the first few and how many there are more."""
    if full:
        return [Line(f"  {fault}") for fault in faults]
    shown = [Line(f"  {_cut(str(fault))}") for fault in faults[:_MOST_FAULTS]]
    more = len(faults) - len(shown)
    return [*shown, *([Line(f"  and {more} more ({FULL})")] if more else [])]


def _cut(text: str) -> str:
    return (
        text
        if len(text) <= _FAULT_LETTERS
        else text[: _FAULT_LETTERS - 1].rstrip() + "\N{HORIZONTAL ELLIPSIS}"
    )


def rows_that_fit(table: Callable[[int], Table], count: int, room: int, console: Console) -> int:
    """How many rows of a table fit so many lines, its head and its longer cells counted; one at least.

    Parameters
    ----------
    table : makes the table of so many rows.
    """
    most = max(min(count, room), 1)
    while most > 1 and len(console.render_lines(table(most), pad=False)) > room:
        most -= 1
    return most


def _wrapped(line: Line, console: Console) -> list[Text]:
    head, figures = printable(line.head), printable(line.figures)
    left = " " * line.indent + head
    room = console.width - len(left) - (len(figures) + _GAP if figures else 0)
    wrapped = list(Text(printable(line.text)).wrap(console, max(room, 1))) or [Text()]
    for row in wrapped:
        row.rstrip()
    first, later = Text(left) + wrapped[0], [Text(" " * len(left)) + row for row in wrapped[1:]]
    if figures:
        first.append(" " * max(console.width - first.cell_len - len(figures), 1) + figures)
    done = [first, *later]
    for row in done:
        row.stylize(line.style)
    return done
