"""`triage priors propose`: assumptions for kinds with few attempts, from families with many."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from triage.cli import options
from triage.cli.priors.opening import RecordOfFit, echo_json, open_fitted

if TYPE_CHECKING:
    from triage.elicitation.proposal import Proposal


def propose(
    history: RecordOfFit,
    out: Annotated[Path, typer.Option(metavar="JSON", help="File for the proposal; `accept` reads it.")],
    little: Annotated[
        int, typer.Option(min=1, max=1000, metavar="N", help="Propose for kinds with fewer attempts.")
    ] = 20,
    until: Annotated[
        date | None,
        typer.Option(
            parser=options.parse_day,
            metavar="DATE",
            help="First fit the jobs known on this day, and propose from that fit; takes some minutes.",
        ),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace a file that is there.")] = False,
    posterior: options.Posterior = None,
    priors: options.Priors = None,
    catalogue: options.Catalogue = None,
    as_json: options.Json = False,
) -> None:
    """Propose assumptions from past jobs.

    Nothing changes; `triage priors accept` takes those you choose.

    A fit from an accepted proposal refuses the jobs that the proposal used. Propose from the jobs up
    to a day (--until), so that later jobs remain for the fit (triage fit --from DATE).
    """
    if until is not None and posterior is not None:
        raise typer.BadParameter("--until runs its own fit; give either it or --posterior")
    if out.exists() and not force:
        raise typer.BadParameter(f"{out} already exists; choose another name, or --force", param_hint="--out")
    if out.exists() and history.exists() and out.samefile(history):
        raise typer.BadParameter(f"{out} holds the past jobs; choose another name", param_hint="--out")
    from triage.workflows.fitting.tuning import propose_from, write_proposal

    if until is not None:
        found = _propose_until(until, history, priors, catalogue, little)
    else:
        shop = open_fitted(history, posterior, priors, catalogue)
        found = propose_from(shop.posterior, shop.record, shop.catalogue, shop.priors, little)
    write_proposal(found, out)
    if as_json:
        from dataclasses import asdict

        # The jobs are many and say nothing to a reader; the file has them.
        held = {name: value for name, value in asdict(found).items() if name != "jobs"}
        echo_json({**held, "jobs": len(found.jobs), "file": str(out)})
        return
    _print(found, out, little)


def _propose_until(
    until: date, history: Path, priors: Path | None, catalogue: Path | None, little: int
) -> Proposal:
    from triage.domain.catalogue import load_catalogue
    from triage.ledger.history.history_csv import read_history
    from triage.priors.prior_set import load_priors
    from triage.workflows.fitting.tuning import propose_until
    from triage.workflows.shop.shop import beliefs_folder

    known = load_catalogue(catalogue)
    beliefs = load_priors(beliefs_folder(priors, catalogue), known)
    typer.echo(f"fitting the jobs up to {until}", err=True)
    return propose_until(until, read_history(history, known), known, beliefs, little)


def _print(found: Proposal, out: Path, little: int) -> None:
    from triage.reports.wording.assumption import double_use_words, proposal_words, proposed_from

    if not found.kinds:
        typer.echo(
            f"nothing to propose: no kind with fewer than {little} attempts has a family with enough others"
        )
    for item in found.kinds:
        typer.echo(f"{item.kind}: {proposal_words(item)}")
        typer.echo(f"  {item.words}")
    typer.echo("Nothing is changed. This applies to every set that takes one of these proposals:")
    typer.echo(double_use_words(proposed_from(found)))
    typer.echo(f"proposal: {out}")
