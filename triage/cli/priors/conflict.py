"""`triage priors conflict`: where assumption and record disagree (prior sensitivity)."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import typer

from triage.cli import options
from triage.cli.priors.opening import INVENTED, RecordOfFit, echo_json, open_fitted

if TYPE_CHECKING:
    from triage.elicitation.beside_record import BesideRecord
    from triage.elicitation.conflict import KindConflict


def conflict(
    history: RecordOfFit,
    posterior: options.Posterior = None,
    priors: options.Priors = None,
    catalogue: options.Catalogue = None,
    as_json: options.Json = False,
) -> None:
    """Find where assumption and record disagree (prior-data conflict, by prior sensitivity).

    Each assumption, then each kind's record, is counted a little more (power-scaling). A chance is
    sensitive where this moves it by .05 or more (Kallioinen and others 2023). "Both: they disagree" means
    sensitive to both, and doubling either moves the chance clearly (by a quarter of its standard deviation
    or more), in opposite directions. "Both, no clear disagreement" means sensitive to both, without that.
    """
    from triage.elicitation.beside_record import beside_record
    from triage.elicitation.conflict import worst_first
    from triage.elicitation.power_scaling import THRESHOLD
    from triage.workflows.answers.beliefs_in_money import conflicts

    shop = open_fitted(history, posterior, priors, catalogue)
    found = worst_first(conflicts(shop.posterior, shop.record, shop.catalogue, shop.priors))
    rows = {row.kind: row for row in beside_record(shop.posterior, shop.priors, shop.catalogue)}
    if as_json:
        echo_json({"threshold": THRESHOLD, "kinds": [_object(item, rows[item.kind]) for item in found]})
        return
    _print_table(found)
    _print_words(found, rows)
    if posterior is None:
        typer.echo(INVENTED)


def _object(item: KindConflict, row: BesideRecord) -> dict[str, Any]:
    from triage.elicitation.conflict import Decides
    from triage.reports.wording.assumption import DECIDES_WORDS, conflict_words

    sides = {
        side: {name: value if math.isfinite(value) else None for name, value in vars(found).items()}
        for side, found in (("belief", item.belief), ("record", item.record))
    }
    said = {"words": DECIDES_WORDS[item.decides], "flagged": item.flagged, "reliable": item.reliable}
    said["said"] = conflict_words(row, item) if item.decides is Decides.DISAGREE else ""
    return {"kind": item.kind, **said, **sides}


def _print_table(found: tuple[KindConflict, ...]) -> None:
    from rich.table import Table

    from triage.cli.terminal.screen import console
    from triage.reports.wording.assumption import DECIDES_WORDS

    table = Table(box=None, padding=(0, 1, 0, 0))
    table.add_column("damage kind, severity 2", overflow="fold", min_width=14)
    for title in ("prior", "data", "prior\nx2", "data\nx2"):
        table.add_column(title, justify="right", no_wrap=True)
    table.add_column("sensitive to")
    for item in found:
        table.add_row(
            item.kind,
            f"{item.belief.value:.2f}",
            f"{item.record.value:.2f}",
            f"{item.belief.shift:+.3f}",
            f"{item.record.shift:+.3f}",
            DECIDES_WORDS[item.decides] + ("" if item.reliable else ", unreliable"),
        )
    console(110).print(table)
    typer.echo(
        "Judged on all severities and related kinds, so the count at severity 2 may not show a conflict."
    )
    typer.echo("prior, data: sensitivity to assumption (prior) and record; .05 or more is sensitive.")
    typer.echo("worth N jobs: how many past jobs the assumption counts as (prior effective sample size).")
    typer.echo("prior x2, data x2: change of the chance if the assumption or the record counted double.")


def _print_words(found: tuple[KindConflict, ...], rows: dict[str, BesideRecord]) -> None:
    """Say of each kind where the two disagree how they do."""
    from triage.cli.terminal.screen import console
    from triage.elicitation.conflict import Decides
    from triage.reports.terminal.lines import Line, print_lines
    from triage.reports.wording.assumption import conflict_words

    apart = (item for item in found if item.decides is Decides.DISAGREE)
    print_lines(
        (Line(f"{item.kind}: {conflict_words(rows[item.kind], item)}") for item in apart), console(110)
    )
