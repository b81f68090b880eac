"""`triage ledger`: the shop's record as a whole."""

from __future__ import annotations

import typer

from triage.cli import ledger_backup, ledger_export, ledger_import, ledger_status

ledger = typer.Typer(
    help="The shop's record: import and export past jobs, back it up, restore it, see how it stands.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
ledger.command("import")(ledger_import.import_jobs)
ledger.command("export")(ledger_export.export_jobs)
ledger.command("backup")(ledger_backup.backup)
ledger.command("restore")(ledger_backup.restore)
ledger.command("status")(ledger_status.status)
