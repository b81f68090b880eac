"""`triage priors propose`: beliefs for kinds with little of a record, from families with much."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from triage.cli import options

if TYPE_CHECKING:
    from triage.elicitation.proposal import Proposal


def propose(
    history: Annotated[Path, typer.Option(metavar="CSV", help="The record the draws were fitted to.")],
    out: Annotated[Path, typer.Option(metavar="JSON", help="Where the proposal goes, for `accept`.")],
    little: Annotated[
        int, typer.Option(min=1, max=1000, metavar="N", help="A kind with fewer attempts is proposed for.")
    ] = 20,
    posterior: options.Posterior = None,
    priors: options.Priors = None,
    catalogue: options.Catalogue = None,
    as_json: options.Json = False,
) -> None:
    """Propose beliefs, and change none: `triage priors accept` takes those you choose.

    Fit up to a day first (triage fit --as-of DATE): the jobs behind an accepted belief may never
    be fitted again with it, so later fits start the day after (triage fit --from DATE).
    """
    from triage.domain.catalogue import load_catalogue
    from triage.posterior.store import load_posterior
    from triage.priors.prior_set import load_priors
    from triage.shipped import shipped
    from triage.workflows.beliefs import record_behind
    from triage.workflows.shop import DEMO_POSTERIOR, beliefs_folder
    from triage.workflows.tuning import propose_from, write_proposal

    known = load_catalogue(catalogue)
    beliefs = load_priors(beliefs_folder(priors, catalogue), known)
    draws = load_posterior(posterior or shipped(DEMO_POSTERIOR), known, models=["success"])
    found = propose_from(draws, record_behind(draws, history, known), known, beliefs, little)
    write_proposal(found, out)
    if as_json:
        from dataclasses import asdict

        from triage.reports.as_json import as_json as written

        # The jobs are many and say nothing to a reader; the file has them.
        held = {name: value for name, value in asdict(found).items() if name != "jobs"}
        typer.echo(written({**held, "jobs": len(found.jobs), "file": str(out)}))
        return
    _print(found, out, little)


def _print(found: Proposal, out: Path, little: int) -> None:
    if not found.kinds:
        typer.echo(f"nothing to propose: no kind with fewer than {little} attempts has a family with more")
    for item in found.kinds:
        stated = "" if item.stated else " (the default)"
        typer.echo(
            f"{item.kind}: chance {item.before_chance:g}, worth {item.before_jobs:g} jobs{stated} -> "
            f"{item.chance:g}, worth {item.jobs:g}"
        )
        typer.echo(f"  {item.words}")
    typer.echo(f"from {len(found.jobs)} jobs up to {found.until}; nothing is changed. Proposal: {out}")
