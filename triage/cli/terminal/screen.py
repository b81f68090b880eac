"""Where answers are printed: as wide as the terminal, or as a file reads well."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.console import Console


def console(wide: int) -> Console:
    """A console for tables.

    Parameters
    ----------
    wide : columns where there is no terminal and COLUMNS does not say it.
    """
    from rich.console import Console

    told = Console().is_terminal or "COLUMNS" in os.environ
    return Console(highlight=False, width=None if told else wide)
