"""`triage priors sets`: the sets of assumptions a fit can start from, and how two of them differ."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from triage.cli import options
from triage.cli.priors.opening import echo_json

if TYPE_CHECKING:
    from triage.workflows.shop.own_sets import OwnSet


def sets(
    apart: Annotated[
        tuple[str, str] | None,
        typer.Option(metavar="NAME NAME", help="Two sets by name: how they differ."),
    ] = None,
    priors: options.Priors = None,
    catalogue: options.Catalogue = None,
    as_json: options.Json = False,
) -> None:
    """List the sets of assumptions.

    The set in use comes first, then those saved on the page Assumptions (folder `beliefs` beside the
    record).
    """
    from triage.domain.catalogue import load_catalogue
    from triage.priors.saved_sets import differences
    from triage.reports.wording.assumption import change_words, double_use_words
    from triage.workflows.shop.own_sets import own_sets
    from triage.workflows.shop.shop import beliefs_folder

    found = own_sets(beliefs_folder(priors, catalogue), load_catalogue(catalogue))
    if apart is not None:
        one, other = (_named(name, found) for name in apart)
        changes = differences(one.priors, other.priors)
        if as_json:
            echo_json({"sets": list(apart), "changes": [vars(change) for change in changes]})
            return
        for line in [change_words(change) for change in changes] or ["the two sets are the same"]:
            typer.echo(line)
        return
    if as_json:
        echo_json({"sets": [_object(item) for item in found]})
        return
    for item in found:
        typer.echo(f"{item.words}: {item.folder or 'every kind uses the default'}")
        if item.problem:
            typer.echo(f"  cannot be read: {item.problem}")
        elif words := double_use_words(item.priors.tuned):
            typer.echo(f"  {words}")


def _named(name: str, found: tuple[OwnSet, ...]) -> OwnSet:
    held = {item.name: item for item in reversed(found) if not item.problem}
    if name not in held:
        raise typer.BadParameter(f"{name!r} is not a readable set; allowed: {', '.join(held)}")
    return held[name]


def _object(item: OwnSet) -> dict[str, Any]:
    tuned = item.priors.tuned
    return {
        "name": item.name,
        "folder": str(item.folder) if item.folder else None,
        "in_use": item.in_use,
        "problem": item.problem,
        "kinds": len(item.priors.success.kind),
        "tuned_on_jobs": len(tuned.jobs),
        "fit_from": str(tuned.first_free_day) if tuned.jobs else None,
    }
