"""Long work: the jobs up to a day fitted, and assumptions proposed from them for the days after."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict
from datetime import date
from pathlib import Path
from typing import Any

from triage.domain.catalogue import load_catalogue
from triage.priors.prior_set import load_priors
from triage.workflows.background.fit import sampling
from triage.workflows.fitting.record_of_fit import read_past_jobs
from triage.workflows.fitting.tuning import propose_until

Tell = Callable[[dict[str, Any]], None]


def run(arguments: dict[str, Any], tell: Tell) -> dict[str, Any]:
    """Propose, and return the proposal as `elicitation.proposal.Proposal` writes it.

    Parameters
    ----------
    arguments : `record` (`{"ledger": URL}` or `{"history": PATH}`), `until` (ISO date), `priors`
        (folder, None for the defaults of every file), and optionally `catalogue`, `seed`.
    """
    catalogue = load_catalogue(_path(arguments.get("catalogue")))
    priors = load_priors(_path(arguments["priors"]), catalogue)
    history = read_past_jobs(arguments["record"], catalogue)
    until = date.fromisoformat(arguments["until"])
    words = f"fitting the jobs up to {until}"

    def said(event: dict[str, Any]) -> None:
        if event["event"] == "sampling":
            tell(sampling(words, event))
        elif event["event"] == "retry":
            tell({"words": f"{words}: second try with stricter settings"})

    tell({"words": f"{words}: preparing the model"})
    seed = arguments.get("seed", 1)
    return asdict(propose_until(until, history, catalogue, priors, seed=seed, progress=said))


def _path(given: str | None) -> Path | None:
    return Path(given) if given else None
