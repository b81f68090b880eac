"""`triage fit --quick`: add new jobs by weighting the draws of the last full fit."""

from __future__ import annotations

import math
from pathlib import Path

import typer

from triage.domain.catalogue import Catalogue
from triage.domain.history import History
from triage.errors import NotConvergedError
from triage.priors.prior_set import PriorSet
from triage.reports.wording.fit import new_jobs_words
from triage.workflows.fitting.quick_update import Update, update_folder


def fit_quick(record: History, catalogue: Catalogue, priors: PriorSet, out: Path, as_json: bool) -> None:
    """Update the folder's fit from its last full fit, and say what came of it.

    Raises
    ------
    NotConvergedError : the new jobs need a full fit; nothing was changed.
    """
    update = update_folder(out, record, catalogue, priors)
    _say(update, out, as_json)
    if update.why_not:
        raise NotConvergedError(
            f"not updated ({'; '.join(update.why_not)}). The fit in {out} is unchanged. "
            "Run the same command without --quick"
        )


def _say(update: Update, out: Path, as_json: bool) -> None:
    since = update.since
    if as_json:
        from triage.reports.json_output.answer import SCHEMA
        from triage.reports.json_output.answer import as_json as written

        stored = update.posterior.manifest.folder if update.posterior else None
        models = {
            name: {
                "pareto_k": one.pareto_k if math.isfinite(one.pareto_k) else None,
                "most_k": one.most_k,
                "effective": one.effective,
                "least_effective": one.least_effective,
                "passed": one.passed,
            }
            for name, one in update.models.items()
        }
        facts = {
            "updated": update.posterior is not None,
            "draws": stored,
            "added": since.added,
            "changed": since.changed,
            "jobs": len(since.now.jobs),
            "as_of": since.now.as_of.isoformat(),
            "full_fit_as_of": since.before.as_of.isoformat(),
            "why_not": list(update.why_not),
        }
        typer.echo(written({"schema": SCHEMA, **facts, "models": models}))
        return
    typer.echo(f"{new_jobs_words(since.added, since.changed)} since the full fit of {since.before.as_of}")
    for name, one in update.models.items():
        typer.echo(
            f"{name}: Pareto k {one.pareto_k:.2f} (allowed {one.most_k:.2f}), effective sample size "
            f"{one.effective:,.0f} (needed {one.least_effective:,.0f}){'' if one.passed else '; REFUSED'}"
        )
    if update.posterior is not None:
        typer.echo(f"in use: {out}, {len(since.now.jobs):,} jobs up to {since.now.as_of}")
    elif not update.why_not:
        typer.echo("no new jobs since the fit in use, which is unchanged")
