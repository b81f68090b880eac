"""`triage priors state`: a belief in counts, turned into what a prior file holds."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from triage.cli import options

if TYPE_CHECKING:
    from triage.workflows.beliefs import StatedBelief

_COUNT = re.compile(r"\s*(\d+(?:\.\d+)?)\s+(?:in|of)\s+(\d+)\s*")


def state(
    kind: Annotated[str, typer.Argument(metavar="KIND", help="Damage kind, at severity 2.")],
    about: Annotated[str, typer.Option(metavar='"15 in 20"', help="How many you would fix.")],
    fewer: Annotated[
        float | None, typer.Option("--fewer-than", metavar="N", help="Fewer than this would surprise you.")
    ] = None,
    more: Annotated[
        float | None, typer.Option("--more-than", metavar="N", help="More than this would surprise you.")
    ] = None,
    surprise: Annotated[float, typer.Option(metavar="CHANCE", help="How often you are surprised.")] = 0.05,
    reason: Annotated[str, typer.Option(help="Why you believe it; kept with the belief.")] = "",
    save: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Save the set with this belief: a free name, or that of --priors."),
    ] = None,
    priors: options.Priors = None,
    catalogue: options.Catalogue = None,
    as_json: options.Json = False,
) -> None:
    """Turn "of 20 like this I would fix about 15; fewer than 11 would surprise me" into a belief.

    Shows what was asked against what is achieved, and what the belief implies before any data.
    """
    found = _COUNT.fullmatch(about)
    if not found:
        raise typer.BadParameter(f'{about!r} is not a count; allowed: a count such as "15 in 20"')
    from triage.domain.catalogue import load_catalogue
    from triage.elicitation.statement import Statement
    from triage.priors.prior_set import load_priors
    from triage.priors.saved_sets import save_set
    from triage.workflows.beliefs import state_belief
    from triage.workflows.shop import beliefs_folder

    known, folder = load_catalogue(catalogue), beliefs_folder(priors, catalogue)
    said = Statement(float(found.group(1)), float(found.group(2)), fewer, more, surprise)
    result = state_belief(kind, said, known, load_priors(folder, known), reason)
    saved = save_set(save, known, [result.belief], folder) if save else None
    changes = [str(change) for change in saved.changes] if saved else []
    if as_json:
        from dataclasses import asdict

        from triage.reports.as_json import SCHEMA
        from triage.reports.as_json import as_json as written

        place = {"saved": str(saved.folder) if saved else None, "changes": changes}
        warnings = list(result.matched.warnings)
        typer.echo(written({"schema": SCHEMA, **asdict(result), "warnings": warnings, **place}))
        return
    _print(result)
    if saved:
        typer.echo(f"saved in {saved.folder}:")
        for change in changes or ["nothing differs from the set it came from"]:
            typer.echo(f"  {change}")


def _print(result: StatedBelief) -> None:
    from triage.domain.counts import in_twenty

    matched, belief = result.matched, result.belief
    typer.echo(f"{belief.slug}: {matched.statement.words}")
    worth = "" if matched.worth_stated else ", the default, since only one number was stated"
    typer.echo(f"chance {belief.chance:.3f} ({in_twenty(belief.chance)}), worth {belief.jobs:g} jobs{worth}")
    typer.echo(f"now in the set: chance {result.before.chance:g}, worth {result.before.jobs:g} jobs")
    of = matched.statement.of
    for alone, fit in zip(matched.quantiles, result.in_fit, strict=True):
        typer.echo(
            f"{alone.words}: asked {alone.asked * of:.1f} in {of:g}, achieved {alone.achieved * of:.1f}; "
            f"where a fit starts {fit.achieved * of:.1f}"
        )
    for words, count in (("by itself", result.alone), ("where a fit starts", result.together)):
        typer.echo(
            f"of {count.of} such devices, {words}: 9 in 10 times {count.low} to {count.high} fixed, "
            f"{count.mean:.1f} on average"
        )
    for warning in matched.warnings:
        typer.echo(f"warning: {warning}: no belief has all you asked", err=True)
    if any(item.off for item in result.in_fit) and not matched.warnings:
        typer.echo(
            "warning: where a fit starts differs by more than 1 in 100 from what you asked: the whole shop "
            "and the family may be off too (shop and family under [scales] in success.toml)",
            err=True,
        )
