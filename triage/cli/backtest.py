"""`triage backtest`: how well the model would have forecast the shop's own past jobs."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any

import typer

from triage.cli import options
from triage.cli.terminal.progress import Bar, progress


def backtest(
    history: options.PastJobs,
    catalogue: options.Catalogue = None,
    priors: Annotated[
        Path | None,
        typer.Option(
            metavar="DIR",
            help="Set of assumptions (priors). Default: the demo's; with --catalogue, weak ones.",
        ),
    ] = None,
    settings: options.Settings = None,
    as_of: Annotated[
        Any,
        typer.Option(
            parser=options.parse_day, metavar="DATE", help="Cut-off. Default: the file's last date."
        ),
    ] = None,
    blocks: Annotated[int, typer.Option(min=1, max=24, help="Blocks to forecast, one fit each.")] = 4,
    seed: Annotated[int, typer.Option(min=0, max=2**31 - 100, help="Seed of sampler and bootstrap.")] = 1,
    as_json: options.Json = False,
) -> None:
    """Fit to the past, forecast the next block of jobs and score it, for the record's second half."""
    from triage.domain.catalogue import load_catalogue
    from triage.domain.shop.settings import load_settings
    from triage.ledger.history.history_csv import read_history
    from triage.priors.prior_set import load_priors
    from triage.reports.terminal.backtest import backtest_lines
    from triage.reports.wording.calibration import money_words
    from triage.shipped import shipped
    from triage.workflows.looking_back.backtest import BacktestOptions
    from triage.workflows.looking_back.backtest import backtest as run
    from triage.workflows.shop.shop import DEMO_SETTINGS, beliefs_folder

    known = load_catalogue(catalogue)
    beliefs = load_priors(beliefs_folder(priors, catalogue), known)
    books = load_settings(settings or shipped(DEMO_SETTINGS))
    record = read_history(history, known, as_of)
    with progress("starting", blocks) as bar:
        wanted = BacktestOptions(blocks=blocks, seed=seed)
        result = run(record, known, beliefs, books, wanted, _tell(bar))
    if as_json:
        from triage.reports.json_output.answer import as_json as written
        from triage.reports.json_output.backtest import told_backtest

        typer.echo(written(told_backtest(result, record, books, invented=settings is None)))
        return
    for line in backtest_lines(result, books.currency, money_words(books, invented=settings is None)):
        typer.echo(line)


def _tell(bar: Bar) -> Callable[[dict[str, Any]], None]:
    """Say where the back-test stands; that a fit failed is said in any case."""

    def tell(event: dict[str, Any]) -> None:
        if event["event"] == "block":
            told = f"block {event['place'] + 1} of {event['of']}"
            bar(event["place"], event["of"], told)
            bar.note(
                f"{told}: {event['past_jobs']} jobs known on {event['origin']}, {event['jobs']} to forecast"
            )
        elif event["event"] == "retry":
            bar.note(f"  second try with stricter settings: {'; '.join(event['why'])}")
        elif event["event"] == "failed":
            from triage.reports.wording.calibration import used_words

            why = "; ".join(event["why"])
            typer.echo(f"a fit failed ({why}); {used_words(event['used'])} used instead", err=True)

    return tell
