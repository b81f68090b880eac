"""`triage priors conflict`: where what the shop believes and what it recorded pull apart."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from triage.cli import options

if TYPE_CHECKING:
    from triage.elicitation.conflict import KindConflict


def conflict(
    history: Annotated[Path, typer.Option(metavar="CSV", help="The record the draws were fitted to.")],
    posterior: options.Posterior = None,
    priors: options.Priors = None,
    catalogue: options.Catalogue = None,
    as_json: options.Json = False,
) -> None:
    """Make each belief, then each kind's record, a little stronger and see whether its chance moves.

    Moved by both from .05 on: a possible conflict (Kallioinen and others 2023). The two disagree
    where they also pull the chance opposite ways.
    """
    from triage.domain.catalogue import load_catalogue
    from triage.posterior.store import load_posterior
    from triage.priors.prior_set import load_priors
    from triage.shipped import shipped
    from triage.workflows.beliefs import conflicts, record_behind
    from triage.workflows.shop import DEMO_POSTERIOR, beliefs_folder

    known = load_catalogue(catalogue)
    beliefs = load_priors(beliefs_folder(priors, catalogue), known)
    draws = load_posterior(posterior or shipped(DEMO_POSTERIOR), known, models=["success"])
    record = record_behind(draws, history, known)
    found = conflicts(draws, record, known, beliefs)
    if as_json:
        from triage.reports.as_json import SCHEMA
        from triage.reports.as_json import as_json as written

        typer.echo(written({"schema": SCHEMA, "threshold": 0.05, "kinds": [_object(item) for item in found]}))
        return
    _print_table(found)
    if posterior is None:
        typer.echo("Invented demo figures: no past job or chance here is any real shop's.")


def _object(item: KindConflict) -> dict[str, Any]:
    sides = {
        side: {name: value if math.isfinite(value) else None for name, value in vars(found).items()}
        for side, found in (("belief", item.belief), ("record", item.record))
    }
    said = {"words": item.words, "flagged": item.flagged, "reliable": item.reliable}
    return {"kind": item.kind, **said, **sides}


def _print_table(found: tuple[KindConflict, ...]) -> None:
    from rich.console import Console
    from rich.table import Table

    table = Table(box=None, padding=(0, 2, 0, 0))
    for title in ("damage, severity 2", "belief", "record", "belief twice", "record twice", ""):
        table.add_column(
            title, justify="left" if title in ("damage, severity 2", "") else "right", no_wrap=True
        )
    # Those that disagree come first, hardest pulled at the top.
    for item in sorted(
        found, key=lambda item: (not item.apart or not item.flagged, -abs(item.belief.shift_sd))
    ):
        table.add_row(
            item.kind,
            f"{item.belief.value:.2f}",
            f"{item.record.value:.2f}",
            f"{item.belief.shift:+.3f}",
            f"{item.record.shift:+.3f}",
            item.words + ("" if item.reliable else ", not reliable"),
        )
    Console(highlight=False, width=None if Console().is_terminal else 110).print(table)
    typer.echo("belief, record: how much the chance answers to each; from .05 on it counts.")
    typer.echo("belief twice, record twice: how the chance would move were that counted double.")
