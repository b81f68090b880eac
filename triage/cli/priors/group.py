"""`triage priors`: what the shop believes, stated, shown, and held against its record."""

from __future__ import annotations

import typer

from triage.cli.priors import accept, compare, conflict, propose, sets, show, state

app = typer.Typer(
    name="priors",
    help="State what you believe, see what it implies, and hold it against the shop's record.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
for _command in (
    state.state,
    show.show,
    conflict.conflict,
    propose.propose,
    accept.accept,
    sets.sets,
    compare.compare,
):
    app.command()(_command)
