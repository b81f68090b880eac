"""`triage priors compare`: sets of assumptions back-tested on the same later jobs."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from triage.cli import options

if TYPE_CHECKING:
    from triage.review.forecasts.set_comparison import Comparison


def compare(
    sets: Annotated[
        list[Path], typer.Argument(metavar="SET1 SET2 ...", help="Folders of sets of assumptions.")
    ],
    history: options.PastJobs,
    catalogue: options.Catalogue = None,
    settings: options.Settings = None,
    as_of: options.AsOf = None,
    blocks: Annotated[int, typer.Option(min=1, max=24, help="Blocks to forecast, one fit each.")] = 4,
    seed: Annotated[int, typer.Option(min=0, max=2**31 - 100, help="Seed of sampler and bootstrap.")] = 1,
    as_json: options.Json = False,
) -> None:
    """Back-test sets on the same later jobs.

    Each set is fitted to the same past jobs and scored on the same later blocks.
    No block holds jobs that a set was tuned on.
    """
    if len(sets) < 2 or len({str(path) for path in sets}) < len(sets):
        raise typer.BadParameter("give two sets or more, each once")
    from triage.domain.catalogue import load_catalogue
    from triage.domain.shop.settings import load_settings
    from triage.ledger.history.history_csv import read_history
    from triage.priors.prior_set import load_priors
    from triage.shipped import shipped
    from triage.workflows.fitting.tuning import compare_sets
    from triage.workflows.looking_back.backtest import BacktestOptions
    from triage.workflows.shop.shop import DEMO_SETTINGS

    known = load_catalogue(catalogue)
    held = {str(path): load_priors(path, known) for path in sets}
    books = load_settings(settings or shipped(DEMO_SETTINGS))
    record = read_history(history, known, as_of)
    found = compare_sets(held, record, known, books, BacktestOptions(blocks=blocks, seed=seed), _tell)
    if as_json:
        from triage.reports.json_output.answer import as_json as written
        from triage.reports.json_output.comparison import comparison_object

        typer.echo(written(comparison_object(found)))
        return
    _print(found)


def _tell(event: dict[str, Any]) -> None:
    """Say on stderr where the back-test stands."""
    if event["event"] == "block":
        typer.echo(
            f"{event['set']}, block {event['place'] + 1} of {event['of']}: {event['jobs']} jobs to forecast",
            err=True,
        )
    elif event["event"] == "failed":
        from triage.reports.wording.calibration import used_words

        typer.echo(
            f"  this fit failed ({'; '.join(event['why'])}); {used_words(event['used'])} used instead",
            err=True,
        )


def _print(found: Comparison) -> None:
    from triage.reports.wording.calibration import BRIER, LOG_ATTEMPT, LOG_JOB

    typer.echo(found.words)
    for item in found.sets:
        line = (
            f"{item.name}: {BRIER} {item.brier:.4f}, {LOG_ATTEMPT} {item.log:.4f}, "
            f"{LOG_JOB} {item.joint_log:.4f}"
        )
        if item.gain is not None:
            line += f"; improvement on the first {item.gain:+.4f} (90 % {item.low:+.4f} to {item.high:+.4f})"
            line += f": {item.words}"
        typer.echo(line)
        typer.echo(f"  {item.failed_words or f'all {item.fits} fits passed'}")
