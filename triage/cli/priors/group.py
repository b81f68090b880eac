"""`triage priors`: the shop's assumptions, stated, shown, and compared with its record."""

from __future__ import annotations

import typer

from triage.cli.priors import accept, compare, conflict, propose, sets, show, state

app = typer.Typer(
    name="priors",
    help="State assumptions (priors), see what they imply, and compare them with the record.",
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
