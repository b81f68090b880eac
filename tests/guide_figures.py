"""Figures in the user guide, computed from the commands in the guide.

A command that is run stands under `<!-- run NAME -->` (with `slow` where it takes long). A figure is
`<!--= NAME place how -->figure<!--/-->`: place is a dotted path in the command's JSON answer, how is
`money` (also when left out, of a number with a currency), `whole`, `count`, `twenty`, `minutes` or `hours`.

`python -m tests.guide_figures` rewrites all of them and reports which changed.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import re
import shlex
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from triage.cli.main import run
from triage.domain.counts import in_twenty
from triage.domain.durations import bench_time
from triage.domain.money import money_text
from triage.policy.answer.assessment import Verdict
from triage.reports.wording.verdict import VERDICT_WORDS

GUIDE = Path(__file__).parent.parent / "docs" / "guide.md"
_COMMAND = re.compile(r"<!-- (not run|run (\w+)( slow)?) -->\n```sh\n(triage [^\n#]+)[^\n]*\n```")
_FIGURE = re.compile(r"<!--= (\w+) (\S+)(?: (\w+))? -->(.*?)<!--/-->", re.DOTALL)


@dataclass(frozen=True)
class Command:
    """One command of the guide; name is "" where it is not run."""

    name: str
    slow: bool
    words: tuple[str, ...]


@dataclass(frozen=True)
class Figure:
    """One marked figure: whose, where in the answer, how it is said, and what the guide says."""

    command: str
    place: str
    how: str
    said: str


def commands(text: str) -> tuple[Command, ...]:
    return tuple(
        Command(name or "", bool(slow), tuple(shlex.split(line)))
        for _, name, slow, line in _COMMAND.findall(text)
    )


def figures(text: str) -> tuple[Figure, ...]:
    return tuple(Figure(*found) for found in _FIGURE.findall(text))


def answer(command: Command) -> dict[str, Any]:
    """The JSON answer of a command, run in this process."""
    told = io.StringIO()
    with contextlib.redirect_stdout(told), contextlib.suppress(SystemExit):
        run([*command.words[1:], "--json"])
    return json.loads(told.getvalue())


def figure_words(figure: Figure, told: dict[str, Any]) -> str:
    """Text of a figure in the guide."""
    value, currency = _at(told, figure.place), told.get("currency", "EUR")
    if isinstance(value, str):
        return VERDICT_WORDS[Verdict(value)] if figure.place == "verdict" else value
    if figure.how == "count" or isinstance(value, int):
        return f"{value:,.0f}"
    if figure.how == "twenty":
        return in_twenty(value)
    if figure.how == "minutes":
        return bench_time(value)
    if figure.how == "hours":
        return f"{value:.0f} h"
    return "no price" if value is None else money_text(value, currency, whole=figure.how == "whole")


def _at(told: Any, place: str) -> Any:
    """A value of the answer; `lines?taken` counts the lines that are taken."""
    for part in place.split("."):
        name, _, ticked = part.partition("?")
        told = told[int(name)] if name.isdigit() else told[name]
        if ticked:
            told = sum(bool(line[ticked]) for line in told)
    return told


def rewritten(text: str, answers: dict[str, dict[str, Any]]) -> str:
    """The guide with the current value of every figure of these answers."""

    def anew(found: re.Match) -> str:
        figure = Figure(*found.groups(default=""))
        if figure.command not in answers:
            return found[0]
        words = figure_words(figure, answers[figure.command])
        return found[0][: found.start(4) - found.start()] + words + "<!--/-->"

    return _FIGURE.sub(anew, text)


def main() -> None:
    """Rewrite every figure of the guide."""
    given = commands(GUIDE.read_text(encoding="utf-8"))
    with tempfile.TemporaryDirectory() as fresh:  # the guide shows the demo, not the user's own record
        os.environ["TRIAGE_RECORD"] = str(Path(fresh) / "record.sqlite")
        answers = {command.name: answer(command) for command in given if command.name}
    text = GUIDE.read_text(encoding="utf-8")  # the guide may have changed meanwhile
    new = rewritten(text, answers)
    for was, now in zip(figures(text), figures(new), strict=True):
        if was.said != now.said:
            warn = "  << read the words around it again" if was.place == "verdict" else ""
            print(f"{was.command} {was.place}: {was.said} -> {now.said}{warn}")  # noqa: T201
    GUIDE.write_text(new, encoding="utf-8")


if __name__ == "__main__":
    main()
