"""`triage backtest`: how well the model would have forecast the shop's own past."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from triage.cli import options

if TYPE_CHECKING:
    from triage.review.backtest import Backtest

_NAMES = {
    "model": "this model",
    "overall": "overall rate",
    "raw": "smoothed rate of the kind",
    "beta": "belief and rate of the kind",
    "ridge": "ridge logistic",
    "take all": "taking every job",
}


def backtest(
    history: Annotated[Path, typer.Option(metavar="CSV", help="The shop's past jobs, one row a finding.")],
    catalogue: options.Catalogue = None,
    priors: Annotated[
        Path | None,
        typer.Option(
            metavar="DIR", help="Beliefs to start from. Default: the demo's; with --catalogue, weak ones."
        ),
    ] = None,
    settings: options.Settings = None,
    as_of: Annotated[
        Any,
        typer.Option(
            parser=options.parse_day, metavar="DATE", help="Cut-off. Default: the file's last date."
        ),
    ] = None,
    blocks: Annotated[int, typer.Option(min=1, max=24, help="Stretches to forecast, one fit each.")] = 4,
    seed: Annotated[int, typer.Option(min=0, max=2**31 - 100, help="Seed of sampler and bootstrap.")] = 1,
    as_json: options.Json = False,
) -> None:
    """Fit on the past, forecast what came next, and score it: for each block of the record's second half."""
    from triage.domain.catalogue import load_catalogue
    from triage.domain.settings import load_settings
    from triage.ledger.history_csv import read_history
    from triage.priors.prior_set import load_priors
    from triage.shipped import shipped
    from triage.workflows.backtest import BacktestOptions
    from triage.workflows.backtest import backtest as run
    from triage.workflows.shop import DEMO_SETTINGS, beliefs_folder

    known = load_catalogue(catalogue)
    beliefs = load_priors(beliefs_folder(priors, catalogue), known)
    books = load_settings(settings or shipped(DEMO_SETTINGS))
    record = read_history(history, known, as_of)
    result = run(record, known, beliefs, books, BacktestOptions(blocks=blocks, seed=seed), _tell)
    money = f"{books.currency}, at the rates and fees of {books.shop}" + (
        "" if settings else " (the demo's, invented)"
    )
    if as_json:
        from triage.reports.as_json import as_json as written
        from triage.reports.backtest_json import backtest_object

        typer.echo(written({**backtest_object(result), "money": money}))
        return
    for line in _lines(result, money):
        typer.echo(line)


def _tell(event: dict[str, Any]) -> None:
    """Say on stderr where the back-test stands."""
    if event["event"] == "block":
        typer.echo(
            f"block {event['place'] + 1} of {event['of']}: {event['past_jobs']} jobs known on "
            f"{event['origin']}, {event['jobs']} to forecast",
            err=True,
        )
    elif event["event"] == "retry":
        typer.echo(f"  once more, more carefully: {'; '.join(event['why'])}", err=True)
    elif event["event"] == "failed":
        typer.echo(f"  this fit failed ({'; '.join(event['why'])}); {event['used']} used instead", err=True)


def _lines(result: Backtest, money: str) -> list[str]:
    """Say the result in the terminal."""
    first, last = result.blocks[0].origin, result.blocks[-1].until
    lines = [
        f"{result.attempts} attempts in {result.jobs} jobs taken in after {first} and up to {last}, "
        f"{len(result.blocks)} blocks; {result.failed_fits} of {len(result.blocks)} fits failed",
        "",
        "penalties, lower is better        Brier     log   joint log a job",
    ]
    for name, scores in result.scores.items():
        lines.append(f"  {_NAMES[name]:<30}{scores.brier:7.4f} {scores.log:7.4f} {scores.joint_log:11.4f}")
    lines += ["", "joint log a job that this model is better by (90 % interval)"]
    for name, gain in result.gains.items():
        lines.append(f"  {_NAMES[name]:<30}{gain.mean:7.4f} ({gain.low:.4f} to {gain.high:.4f})")
    test = result.calibration
    lines += ["", f"calibration: Spiegelhalter z {test.z:.2f}" + _usual(test.reference)]
    for one in result.bins:
        share = one.happened
        lines.append(
            f"  forecast {one.low:.1f} to {one.high:.1f}: mean {one.forecast:.2f}, fixed {share.held} of "
            f"{share.of} ({share.low:.2f} to {share.high:.2f})"
        )
    lines += ["", *_decision_lines(result, money)]
    lines += [f"drift in {alarm.name}: {alarm.words}" for alarm in result.alarms]
    lines += [f"the record has {lack}" for lack in result.lacks]
    return lines


def _usual(reference: tuple[float, float] | None) -> str:
    if reference is None:
        return ""
    return f"; 90 % of such fits, were they right, give {reference[0]:.2f} to {reference[1]:.2f}"


def _decision_lines(result: Backtest, money: str) -> list[str]:
    score = result.decision
    if score is None:
        return []
    lines = [score.estimand, score.rule, f"margins in {money}; {score.jobs} jobs, {score.left_out} left out:"]
    for name, rule in score.rules.items():
        lines.append(
            f"  {_NAMES[name]:<30}{rule.margin:10.0f} from {rule.taken} jobs; {rule.vetoed} vetoed, "
            f"which made {rule.vetoed_margin:.0f}"
        )
    for name, gain in score.gains.items():
        against = f"this model less {_NAMES[name]}"
        lines.append(f"  {against}: {gain.mean:.2f} a job ({gain.low:.2f} to {gain.high:.2f})")
    return lines
