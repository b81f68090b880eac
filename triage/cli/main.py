"""The `triage` command: bench questions answered in the terminal."""

from __future__ import annotations

import contextlib
import io
import os
import sys
from collections.abc import Sequence
from typing import Annotated

import typer

from triage.cli import app as app_command
from triage.cli import assess as assess_command
from triage.cli import backtest as backtest_command
from triage.cli import chances as chances_command
from triage.cli import choose as choose_command
from triage.cli import fit as fit_command
from triage.cli import lot as lot_command
from triage.cli import posterior as posterior_commands
from triage.cli import review as review_command
from triage.cli.ledger import group as ledger
from triage.cli.ledger import whole_shop
from triage.cli.prices import group as prices
from triage.cli.priors import group as priors
from triage.cli.quoting import quote as quote_command
from triage.cli.quoting import quote_data as quote_data_command
from triage.errors import TriageError
from triage.shipped import program_version

cli = typer.Typer(
    name="triage",
    help="Assess damaged handhelds: verdict, price and work plan.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _say_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"triage {program_version()}")
        raise typer.Exit


@cli.callback()
def _options(
    show_version: Annotated[
        bool, typer.Option("--version", callback=_say_version, is_eager=True, help="Print the version.")
    ] = False,
    no_color: Annotated[bool, typer.Option("--no-color", help="Print without colour or bold.")] = False,
) -> None:
    if no_color:
        os.environ["NO_COLOR"] = "1"


for _command in (
    app_command.app,
    assess_command.assess,
    quote_command.quote,
    quote_data_command.quote_data,
    lot_command.lot,
    chances_command.chances,
    choose_command.choose,
    fit_command.fit,
    backtest_command.backtest,
    review_command.review,
    whole_shop.backup,
    whole_shop.restore,
):
    cli.command()(_command)
cli.add_typer(priors.app)
cli.add_typer(ledger.ledger, name="record")
cli.add_typer(prices.prices, name="prices")
cli.add_typer(posterior_commands.posterior, name="posterior")


# What earlier versions called these options, and the command of `_present_names`.
_FORMER = {"--ledger": "--record", "--history": "--past-jobs"}


def _present_names(arguments: Sequence[str]) -> list[str]:
    """A command line as it is written now: scripts of earlier versions still work."""
    words = list(arguments)
    if words[:1] == ["ledger"]:
        words[0] = "record"
    parted = (word.partition("=") for word in words)
    return [_FORMER.get(name, name) + sign + value for name, sign, value in parted]


def run(arguments: Sequence[str] | None = None) -> None:
    """Run the command line; what the program refuses is one message and an exit code."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):  # not every system's own encoding has our signs
            stream.reconfigure(encoding="utf-8", errors=stream.errors)
    try:
        try:
            cli(args=_present_names(sys.argv[1:] if arguments is None else arguments), prog_name="triage")
        finally:
            if sys.stdout is not None:
                sys.stdout.flush()  # here, where a full disk can still be told
    except OSError as problem:
        _say_no_more()
        if not isinstance(problem, BrokenPipeError):  # who read along has gone
            where = f"{problem.filename}: " if problem.filename else ""
            typer.echo(f"triage: {where}{problem.strerror or problem}", err=True)
        sys.exit(2)
    except TriageError as refusal:
        from triage.reports.terminal.lines import printable

        # What a file is called, or holds, must not steer the terminal.
        said = "\n".join(map(printable, str(refusal).split("\n")))
        typer.echo(f"triage: {said}", err=True)
        sys.exit(refusal.exit_code)


def _say_no_more() -> None:
    """Let what still waits for the output go nowhere, or Python would fail on it once more at the end."""
    with contextlib.suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
