"""`triage priors`: what the shop believes, stated, shown, and held against its record."""

from __future__ import annotations

import typer

from triage.cli import (
    priors_accept,
    priors_compare,
    priors_conflict,
    priors_propose,
    priors_sets,
    priors_show,
    priors_state,
)

app = typer.Typer(
    name="priors",
    help="State what you believe, see what it implies, and hold it against the shop's record.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
for _command in (
    priors_state.state,
    priors_show.show,
    priors_conflict.conflict,
    priors_propose.propose,
    priors_accept.accept,
    priors_sets.sets,
    priors_compare.compare,
):
    app.command()(_command)
