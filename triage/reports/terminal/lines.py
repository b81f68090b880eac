"""Lines of terminal text: indented, wrapped, with figures at the right edge."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from rich.console import Console
from rich.text import Text

_GAP = 2


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
