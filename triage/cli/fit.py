"""`triage fit`: fit every outcome model to a shop's own record."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from triage.cli import options
from triage.cli.terminal.completion import damage_kinds
from triage.cli.terminal.progress import Bar, progress

if TYPE_CHECKING:
    from triage.domain.catalogue import Catalogue
    from triage.workflows.fitting.fit import FitResult, StoredFit

_AGAIN = (
    "Run it again with another --seed. If that fails too, state stronger assumptions for kinds with few past "
    "jobs (--priors)."
)


def fit(
    out: Annotated[
        Path, typer.Option(metavar="DIR", help="Folder for the fit; `assess --posterior` reads it.")
    ],
    history: options.PastJobsOrRecord = None,
    ledger: options.RecordOfJobs = None,
    catalogue: options.Catalogue = None,
    priors: Annotated[
        Path | None,
        typer.Option(
            metavar="DIR",
            help="Set of assumptions (priors). Default: the demo's; with --catalogue, weak ones.",
        ),
    ] = None,
    as_of: Annotated[
        Any,
        typer.Option(
            parser=options.parse_day, metavar="DATE", help="Cut-off. Default: the last date in the past jobs."
        ),
    ] = None,
    first: Annotated[
        Any,
        typer.Option(
            "--from",
            parser=options.parse_day,
            metavar="DATE",
            help="Leave out jobs taken in before this day.",
        ),
    ] = None,
    half_life: Annotated[
        float | None,
        typer.Option(
            min=1, max=1e6, metavar="DAYS", help="Forgetting: age at which a job counts half for the chances."
        ),
    ] = None,
    half_life_kind: Annotated[
        list[str] | None,
        typer.Option(
            metavar="KIND",
            autocompletion=damage_kinds,
            help="Forgetting only for jobs with this damage kind; may be repeated.",
        ),
    ] = None,
    seed: Annotated[int, typer.Option(min=0, max=2**31 - 1, help="Seed of the sampler.")] = 1,
    label: Annotated[str, typer.Option(help="Name of the fit on screens.")] = "",
    quick: Annotated[
        bool, typer.Option("--quick", help="Quick update: add new jobs to the full fit in --out, in seconds.")
    ] = False,
    as_json: options.Json = False,
) -> None:
    """Fit the models to past jobs.

    Each model that passes its checks is used. Assumptions replace one that fails: its draws are saved but
    not used. If no model passes, the fit in use stays (exit 3).

    Earlier fits stay in the folder: `triage posterior list` shows them, `use` goes back to one.

    With --quick there is no new fit: the draws of the last full fit are weighted by the likelihood of the
    jobs since then. If the weights are unreliable, nothing changes and a full fit is needed (exit 3).
    """
    if quick and (first or half_life or half_life_kind or label):
        raise typer.BadParameter(
            "--quick uses --from, --half-life and --label of the full fit; leave them out"
        )
    if not label.isprintable():
        raise typer.BadParameter("holds a control character; allowed: plain text", param_hint="--label")
    if (history is None) == (ledger is None):
        raise typer.BadParameter("give the past jobs either by --past-jobs CSV or by --record URL")
    from triage.domain.catalogue import load_catalogue
    from triage.errors import Fault, HistoryError, NotConvergedError
    from triage.ledger.history.history_csv import read_history
    from triage.priors.prior_set import load_priors
    from triage.workflows.fitting.fit import fit_history, store_fit
    from triage.workflows.shop.record_files import history_of_record
    from triage.workflows.shop.shop import beliefs_folder

    if out.exists() and not out.is_dir():
        raise HistoryError([Fault(str(out), None, "--out", "is a file", "a folder or a new name")])
    above = next(folder for folder in (out, *out.absolute().parents) if folder.exists())
    if not above.is_dir() or not os.access(above, os.W_OK):
        wrong = f"cannot be created in {above}"
        raise HistoryError([Fault(str(out), None, "--out", wrong, "a folder with write permission")])
    known = load_catalogue(catalogue)
    beliefs = load_priors(beliefs_folder(priors, catalogue), known)
    if history:
        record = read_history(history, known, as_of)
    else:
        record = history_of_record(ledger, known, as_of)
    if quick:
        from triage.cli.fit_quick import fit_quick

        fit_quick(record, known, beliefs, out, as_json)
        return
    if first:
        record = record.since(first)
        if record.rows.empty:
            wrong = f"no job was taken in from {first} to {record.as_of}"
            raise HistoryError(
                [Fault(str(history or ledger), None, "--from", wrong, "a day before the last job")]
            )
    older = _kinds(half_life, half_life_kind, known)
    with progress("starting") as bar:
        result = fit_history(
            record,
            known,
            beliefs,
            seed,
            _tell(bar),
            label=label,
            half_life=half_life,
            half_life_kinds=older,
        )
    stored = store_fit(result, out)
    _say(result, stored, as_json)
    if not stored.current:
        why = "; ".join(f"{model}: {', '.join(said)}" for model, said in result.failures.items())
        raise NotConvergedError(
            f"the fit did not converge ({why}). It is saved in {stored.folder} and not used; an earlier fit "
            f"in that folder stays in use. {_AGAIN}"
        )


def _kinds(half_life: float | None, kinds: list[str] | None, catalogue: Catalogue) -> list[str] | None:
    """Check the kinds whose jobs forget; None for those of all."""
    from triage.errors import Fault, HistoryError, nearest

    if kinds and half_life is None:
        wrong = "needs a half-life"
        raise HistoryError([Fault("triage fit", None, "--half-life-kind", wrong, "--half-life DAYS with it")])
    faults = [
        Fault(
            "triage fit",
            None,
            "--half-life-kind",
            f"{kind!r} is no damage kind" + nearest(kind, catalogue.kinds),
            "a kind's slug",
        )
        for kind in kinds or ()
        if kind not in catalogue.kinds
    ]
    if faults:
        raise HistoryError(faults)
    return kinds or None


def _say(result: FitResult, stored: StoredFit, as_json: bool) -> None:
    """Print diagnostics of every model."""
    manifest = stored.manifest
    models = {name: asdict(record) for name, record in manifest.models.items()}
    if as_json:
        from triage.reports.json_output.answer import SCHEMA
        from triage.reports.json_output.answer import as_json as written

        summary = {
            "jobs": manifest.jobs,
            "rows": manifest.rows,
            "as_of": manifest.as_of,
            "seed": manifest.seed,
        }
        typer.echo(
            written(
                {
                    "schema": SCHEMA,
                    "current": stored.current,
                    "folder": str(stored.folder),
                    "set_aside": str(stored.set_aside) if stored.set_aside else None,
                    **summary,
                    "models": models,
                    "hopeless_gap": manifest.hopeless_gap,
                }
            )
        )
        return
    typer.echo(f"{manifest.jobs} jobs, {manifest.rows} rows, up to {manifest.as_of}")
    for name, model in models.items():
        typer.echo(f"{name}: {_model_words(model)}")
    typer.echo(f"{'in use' if stored.current else 'not used'}: {stored.folder}")
    if stored.current and result.failures:
        from triage.reports.wording.fit import listed, model_name

        names = listed([model_name(name) for name in result.failures])
        which = "All chances" if "success" in result.failures else f"Figures of {names}"
        typer.echo(
            f"The fit failed for {names}. {which} are assumptions only; no past job counts in them. "
            f"The refused draws are in {stored.set_aside}. {_AGAIN}"
        )


def _model_words(model: dict[str, Any]) -> str:
    found = model["diagnostics"]
    if model["refused"]:
        return f"assumptions only, its fit FAILED: {model['why']}, {found['seconds']:.0f} s"
    if found is None:
        return f"assumptions only, {model['why']}"
    words = (
        f"R-hat {found['rhat']:.3f}, effective sample size {found['ess_bulk']:.0f} bulk and "
        f"{found['ess_tail']:.0f} tail, {found['divergences']} divergences, energy {found['bfmi']:.2f}, "
        f"{found['seconds']:.0f} s"
    )
    return words + ("" if model["passed"] else f"; FAILED: {model['why']}")


def _tell(bar: Bar) -> Callable[[dict[str, Any]], None]:
    """Say what the fit is doing."""

    def tell(event: dict[str, Any]) -> None:
        if event["event"] == "sampling":
            bar(event["drawn"], event["of"], f"{event['model']}, draws")
        elif event["event"] == "model":
            bar.note(f"{event['model']}: {event['purpose']}")
        elif event["event"] == "retry":
            bar.note(f"  second try with stricter settings: {'; '.join(event['why'])}")
        elif event["event"] == "fitted" and not event["passed"]:
            bar.note(f"  failed its checks: {'; '.join(event['why'])}")

    return tell
