"""Progress of long work: a bar on the error stream where that is a terminal, and nothing anywhere else."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.progress import Progress, TaskID


def on_terminal() -> bool:
    """Whether somebody watches the error stream."""
    return sys.stderr is not None and sys.stderr.isatty()


class Bar:
    """A bar that is told how far the work is; without one it says nothing."""

    def __init__(self, shown: Progress | None = None, task: TaskID | None = None) -> None:
        self._shown, self._task = shown, task

    def __call__(self, done: float, of: float | None = None, what: str | None = None) -> None:
        """Say that so much of the whole is done; what is left out stays as it was."""
        if self._shown is not None and self._task is not None:
            self._shown.update(self._task, completed=done, total=of, description=what)

    def note(self, words: str) -> None:
        """Say something that stays above the bar."""
        if self._shown is not None:
            self._shown.console.print(words, markup=False)


@contextmanager
def progress(what: str, of: float | None = None) -> Iterator[Bar]:
    """A bar for one piece of work.

    Parameters
    ----------
    of : how much there is to do, where it is known from the start.
    """
    if not on_terminal():
        yield Bar()
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description}", markup=False), BarColumn(), MofNCompleteColumn())
    console = Console(stderr=True, highlight=False, force_terminal=True)
    with Progress(*columns, TimeElapsedColumn(), console=console, transient=True) as shown:
        yield Bar(shown, shown.add_task(what, total=of))
