"""`triage record`: the shop's record as a whole."""

from __future__ import annotations

import typer

from triage.cli.ledger import backup, export, forget, import_jobs, status

ledger = typer.Typer(
    help="The shop's record: import and export jobs, backup, restore, erase personal data, status.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
ledger.command("import")(import_jobs.import_jobs)
ledger.command("export")(export.export_jobs)
ledger.command("backup")(backup.backup)
ledger.command("restore")(backup.restore)
ledger.command("forget")(forget.forget)
ledger.command("status")(status.status)
