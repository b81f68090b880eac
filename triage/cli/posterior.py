"""`triage posterior`: the saved fits of a folder, their state, and the way back to earlier ones."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from triage.cli import options

if TYPE_CHECKING:
    from triage.posterior.manifest import Manifest

posterior = typer.Typer(
    help="Saved fits: show their state, check the model, list them, or use an earlier one.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
_Folder = Annotated[Path, typer.Argument(metavar="DIR", help="A folder written by `triage fit`.")]
_AnyFolder = Annotated[
    Path | None,
    typer.Argument(
        metavar="DIR", help="A folder written by `triage fit`. Default: your own, else the invented demo's."
    ),
]


def _in_use(folder: Path | None, catalogue: Path | None = None) -> Path:
    """The folder that was named, else the one that answers use."""
    from triage.shipped import shipped
    from triage.workflows.shop.learned_chances import with_learned
    from triage.workflows.shop.shop import DEMO_POSTERIOR
    from triage.workflows.shop.shop_files import ShopFiles

    return with_learned(ShopFiles(catalogue=catalogue, posterior=folder)).posterior or shipped(DEMO_POSTERIOR)


@posterior.command("status")
def status(
    folder: _AnyFolder = None,
    ledger: options.Ledger = None,
    catalogue: options.Catalogue = None,
    priors: options.Priors = None,
    as_of: options.AsOf = None,
    as_json: options.Json = False,
) -> None:
    """Say what the fit in use was fitted to, and which jobs are newer.

    Newer jobs are counted only if --record names the record.
    """
    from triage.ledger.opening import open_ledger
    from triage.workflows.fitting.standing import posterior_standing
    from triage.workflows.shop.shop_files import ShopFiles

    folder = _in_use(folder, catalogue)
    shop = ShopFiles(catalogue=catalogue, priors=priors, posterior=folder).open(as_of)
    opened = open_ledger(ledger, create=False) if ledger else None
    try:
        standing = posterior_standing(shop.posterior, shop, opened, shop.today)
    finally:
        if opened:
            opened.close()
    manifest = shop.posterior.manifest
    if as_json:
        from triage.reports.json_output.answer import SCHEMA
        from triage.reports.json_output.answer import as_json as written

        told = {"source": shop.posterior.source, "words": standing.words, "level": standing.level}
        facts = {"draws": manifest.folder, "jobs": manifest.jobs, "as_of": manifest.as_of}
        assumed = {"assumptions_only": _assumed(manifest)}
        typer.echo(written({"schema": SCHEMA, **told, **facts, **assumed}))
        return
    typer.echo(f"{manifest.folder}: {shop.posterior.source}")
    typer.echo(standing.words or "Up to date.")


@posterior.command("health")
def check(
    folder: _AnyFolder = None,
    ledger: options.Ledger = None,
    catalogue: options.Catalogue = None,
    priors: options.Priors = None,
    as_of: options.AsOf = None,
    as_json: options.Json = False,
) -> None:
    """Model check: say for each model whether the fit in use can be trusted, and why not."""
    from triage.cli.terminal.screen import console
    from triage.reports.terminal.lines import Line, print_lines
    from triage.reports.wording.fit import check_words
    from triage.workflows.fitting.model_check import model_check
    from triage.workflows.shop.record_files import open_record_if_there
    from triage.workflows.shop.shop_files import ShopFiles

    folder = _in_use(folder, catalogue)
    shop = ShopFiles(catalogue=catalogue, priors=priors, posterior=folder).open(as_of)
    opened = open_record_if_there(ledger) if ledger else None
    try:
        found = model_check(shop, opened, folder, shop.today)
    finally:
        if opened:
            opened.close()
    if as_json:
        from dataclasses import asdict

        from triage.reports.json_output.answer import SCHEMA
        from triage.reports.json_output.answer import as_json as written

        told = asdict(found)
        told.pop("manifest")
        typer.echo(written({"schema": SCHEMA, **told}))
        return
    lines = [Line(f"{found.verdict}", style="bold")]
    for model in found.models:
        lines.append(Line(f"{model.name}: {model.words}"))
        failed = (check for check in model.checks or () if check.fails)
        lines += [Line(f"{check.quantity}: {check_words(check)}", indent=2) for check in failed]
        lines.append(Line(f"Simulation-based calibration: {model.calibration.words}", indent=2))
    for fit in found.rejected:
        why = "; ".join(f"{name}: {why}" for name, why in fit.failures)
        lines.append(Line(f"not used, {fit.folder}: {why}"))
    if found.rejected:
        lines.append(Line(found.rejected[0].advice))
    print_lines(lines, console(100))


@posterior.command("list")
def list_versions(folder: _AnyFolder = None, as_json: options.Json = False) -> None:
    """List the saved fits of the folder, newest first."""
    from triage.posterior.versions import versions
    from triage.reports.wording.fit import model_name

    held = versions(_in_use(folder))
    if as_json:
        from triage.reports.json_output.answer import SCHEMA
        from triage.reports.json_output.answer import as_json as written

        rows = [
            {
                "draws": version.name,
                "in_use": version.in_use,
                "stored_at": version.manifest.stored_at,
                "as_of": version.manifest.as_of,
                "jobs": version.manifest.jobs,
                "label": version.manifest.label,
                "updated_from": version.manifest.update.fitted if version.manifest.update else None,
                "assumptions_only": _assumed(version.manifest),
            }
            for version in held
        ]
        typer.echo(written({"schema": SCHEMA, "versions": rows}))
        return
    for version in held:
        told = version.manifest
        mark = "in use" if version.in_use else "saved"
        stored = f", saved {told.stored_at[:16].replace('T', ' ')} UTC" if told.stored_at else ""
        label = f", {told.label}" if told.label else ""
        record = f"{told.jobs:,} jobs up to {told.as_of}" if told.as_of else "assumptions only"
        if told.update:
            record += f" (quick update of {told.update.fitted})"
        if told.refused:
            record += f" (failed for {', '.join(map(model_name, told.refused))})"
        typer.echo(f"{mark:6}  {version.name}: {record}{stored}{label}")


def _assumed(manifest: Manifest) -> dict[str, dict[str, str | bool]]:
    """Models of a fit that use assumptions only: why, and whether because their fit failed."""
    found = ((name, manifest.models[name]) for name in manifest.belief_only)
    return {name: {"refused": one.refused, "why": one.why} for name, one in found}


@posterior.command("use")
def use(
    folder: _Folder,
    draws: Annotated[str, typer.Argument(metavar="DRAWS", help="A fit that `list` names.")],
    catalogue: options.Catalogue = None,
    as_json: options.Json = False,
) -> None:
    """Use another saved fit; the one in use until now stays saved."""
    from triage.domain.catalogue import load_catalogue
    from triage.posterior.store import check_catalogue
    from triage.posterior.versions import use_version, version_named

    check_catalogue(folder, version_named(folder, draws).manifest, load_catalogue(catalogue))
    manifest = use_version(folder, draws)
    if as_json:
        from triage.reports.json_output.answer import SCHEMA
        from triage.reports.json_output.answer import as_json as written

        typer.echo(written({"schema": SCHEMA, "draws": manifest.folder, "as_of": manifest.as_of}))
        return
    typer.echo(f"in use: {manifest.folder}, {manifest.jobs:,} jobs up to {manifest.as_of or 'none'}")
