"""`triage priors state`: an assumption in counts, turned into what a prior file holds."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from triage.cli import options
from triage.cli.priors.opening import echo_json
from triage.cli.terminal.completion import damage_kinds

if TYPE_CHECKING:
    from triage.elicitation.stated_belief import StatedBelief

_COUNT = re.compile(r"\s*([0-9]{1,9}(?:\.[0-9]{1,9})?)\s+(?:in|of)\s+([0-9]{1,9})\s*")


def state(
    kind: Annotated[
        str,
        typer.Argument(metavar="KIND", autocompletion=damage_kinds, help="Damage kind, at severity 2."),
    ],
    about: Annotated[str, typer.Option(metavar='"15 in 20"', help="How many you expect to fix.")],
    fewer: Annotated[
        float | None, typer.Option("--fewer-than", metavar="N", help="Fewer than this would surprise you.")
    ] = None,
    more: Annotated[
        float | None, typer.Option("--more-than", metavar="N", help="More than this would surprise you.")
    ] = None,
    surprise: Annotated[
        float, typer.Option(metavar="CHANCE", help="Chance of a result beyond each limit.")
    ] = 0.05,
    reason: Annotated[str, typer.Option(help="Why you assume it; needed to save it.")] = "",
    save: Annotated[
        Path | None,
        typer.Option(
            metavar="DIR", help="Save the set with this assumption: a new name, or that of --priors."
        ),
    ] = None,
    priors: options.Priors = None,
    catalogue: options.Catalogue = None,
    as_json: options.Json = False,
) -> None:
    """Turn a statement in counts into an assumption.

    For example: of 20 like this I would fix about 15; fewer than 11 would surprise me. Shows your
    numbers beside those of the assumption, and what it implies before any job is counted.
    """
    found = _COUNT.fullmatch(about)
    if not found:
        wrong = f'{about[:60]!r} is not a count; allowed: a count such as "15 in 20"'
        raise typer.BadParameter(wrong, param_hint="--about")
    from triage.domain.catalogue import load_catalogue
    from triage.elicitation.stated_belief import state_belief
    from triage.elicitation.statement import Statement
    from triage.priors.prior_set import load_priors
    from triage.workflows.shop.own_sets import keep_belief
    from triage.workflows.shop.shop import beliefs_folder

    known, folder = load_catalogue(catalogue), beliefs_folder(priors, catalogue)
    said = Statement(float(found.group(1)), float(found.group(2)), fewer, more, surprise)
    result = state_belief(kind, said, known, load_priors(folder, known), reason)
    saved = keep_belief(result.belief, save, folder, known) if save else None
    changes = [str(change) for change in saved.changes] if saved else []
    if as_json:
        from dataclasses import asdict

        place = {"saved": str(saved.folder) if saved else None, "changes": changes}
        warnings = list(result.matched.warnings)
        echo_json({**asdict(result), "warnings": warnings, **place})
        return
    _print(result)
    if saved:
        typer.echo(f"saved in {saved.folder}:")
        for change in changes or ["no value differs from the set it was copied from"]:
            typer.echo(f"  {change}")


def _print(result: StatedBelief) -> None:
    from triage.reports.wording.assumption import asked_lines, asked_warning, belief_words, count_words

    matched, belief = result.matched, result.belief
    typer.echo(f"{belief.slug}: {matched.statement.words}")
    worth = "" if matched.worth_stated else " (default, because only one number was stated)"
    typer.echo(f"chance {belief.chance:.3f}, worth {belief.jobs:g} jobs{worth}: {belief_words(belief)}")
    typer.echo(f"in the set now: {belief_words(result.before)}")
    for line in asked_lines(result):
        typer.echo(line)
    for words, count in (("as you state it", result.alone), ("as the set has it now", result.before_alone)):
        typer.echo(f"{words}: {count_words(count)}")
    typer.echo("Your statement is about all such repairs; the ranges of runs are for the next few only.")
    typer.echo("worth N jobs: how many past jobs the assumption counts as (prior effective sample size).")
    if warning := asked_warning(result):
        typer.echo(f"warning: {warning}", err=True)
