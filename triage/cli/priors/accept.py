"""`triage priors accept`: take some of a proposal into a set of assumptions."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from triage.cli import options
from triage.cli.priors.opening import echo_json
from triage.cli.terminal.completion import damage_kinds


def accept(
    proposal: Annotated[Path, typer.Argument(metavar="PROPOSAL.json", help="Written by `priors propose`.")],
    save: Annotated[
        Path, typer.Option(metavar="DIR", help="Save the set here: a new name, or that of --priors.")
    ],
    kind: Annotated[
        list[str] | None,
        typer.Option(
            metavar="KIND", autocompletion=damage_kinds, help="A damage kind to accept; may be repeated."
        ),
    ] = None,
    everything: Annotated[bool, typer.Option("--all", help="Accept all proposed kinds.")] = False,
    priors: options.Priors = None,
    catalogue: options.Catalogue = None,
    as_json: options.Json = False,
) -> None:
    """Save a set with the proposals you choose.

    The set also keeps which jobs its fits must not use.
    """
    if everything == bool(kind):
        raise typer.BadParameter("nothing to accept was named; give --kind (may be repeated) or --all")
    from triage.domain.catalogue import load_catalogue
    from triage.elicitation.proposal import read_proposal
    from triage.workflows.fitting.tuning import accept as take
    from triage.workflows.shop.shop import beliefs_folder

    known = load_catalogue(catalogue)
    wanted = None if everything else kind
    saved = take(
        read_proposal(proposal), wanted, save, beliefs_folder(priors, catalogue), known, str(proposal)
    )
    tuned, first = saved.priors.tuned, saved.priors.tuned.first_free_day
    changes = [str(change) for change in saved.changes]
    if as_json:
        held = {"saved": str(saved.folder), "changes": changes, "tuned_on_jobs": len(tuned.jobs)}
        echo_json({**held, "fit_from": str(first)})
        return
    for change in changes:
        typer.echo(change)
    from triage.reports.wording.assumption import double_use_words

    typer.echo(f"saved in {saved.folder}. {double_use_words(tuned)} (--from {first})")
