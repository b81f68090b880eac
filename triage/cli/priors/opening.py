"""What several `triage priors` commands ask for and open: the draws, and the record behind them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from triage.domain.catalogue import Catalogue
    from triage.domain.history import History
    from triage.posterior.store import Posterior
    from triage.priors.prior_set import PriorSet

RecordOfFit = Annotated[
    Path, typer.Option("--past-jobs", metavar="CSV", help="The past jobs that were fitted.")
]
INVENTED = "Invented demo figures: no past job or chance here comes from a real shop."


@dataclass(frozen=True)
class Fitted:
    """A shop's assumptions, the draws fitted from them, and the record they were fitted to."""

    catalogue: Catalogue
    priors: PriorSet
    posterior: Posterior
    record: History


def open_fitted(history: Path, posterior: Path | None, priors: Path | None, catalogue: Path | None) -> Fitted:
    """Open the files; each one not given is the shipped demo's."""
    from triage.domain.catalogue import load_catalogue
    from triage.posterior.store import load_posterior
    from triage.priors.prior_set import load_priors
    from triage.shipped import shipped
    from triage.workflows.fitting.record_of_fit import record_behind
    from triage.workflows.shop.shop import DEMO_POSTERIOR, beliefs_folder

    known = load_catalogue(catalogue)
    beliefs = load_priors(beliefs_folder(priors, catalogue), known)
    draws = load_posterior(posterior or shipped(DEMO_POSTERIOR), known, models=["success"])
    return Fitted(known, beliefs, draws, record_behind(draws, history, known))


def echo_json(held: dict[str, Any]) -> None:
    """Print one JSON object with its schema first."""
    from triage.reports.json_output.answer import SCHEMA, as_json

    typer.echo(as_json({"schema": SCHEMA, **held}))
