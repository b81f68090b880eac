"""The page of past jobs: a shop's own spreadsheet, looked through, matched once, and brought in."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from triage.app_pages.past.past_jobs_file import PastFile, mapping_part
from triage.app_pages.shared.at_the_bench import at_the_bench
from triage.app_pages.shared.current_device import listed
from triage.app_pages.shared.flash import flash, say_what_happened
from triage.app_pages.shared.literal import literal
from triage.app_pages.shared.next_step import next_step
from triage.app_pages.shared.page_head import page_head
from triage.app_pages.shared.shop_record import record_url, shop_record
from triage.errors import TriageError
from triage.ledger.history.column_mapping import ColumnMapping
from triage.workflows.jobs.import_history import PastJobs, import_past_jobs
from triage.workflows.past.preview import FaultGroup, Preview, preview
from triage.workflows.past.remembered import mapping_text, remember, remembered_mapping
from triage.workflows.shop.shop import Shop

_WHAT = """\
Export your job list as CSV, with one row per damage. It needs the date, the damage and the outcome.
Keep your own column titles and words: you match them here once.

- A job number lets several rows be one job.
- Minutes, parts cost, purchase price, sale price and technician help the models and the money review.
- Nothing is saved before you press **Import**. Rows with errors are left out; download and mend them.
"""


def page() -> None:
    """Draw the file, how it is read, what of it is in order, and the button that brings it in."""
    shop = page_head("Past jobs", "Import the jobs of a spreadsheet.")
    ledger, _ = shop_record()
    if shop is None or ledger is None:
        return
    say_what_happened()
    given = st.file_uploader(
        "Spreadsheet of past jobs (CSV)", type=["csv", "tsv", "txt"], key="past-file", max_upload_size=20
    )
    if given is None:
        st.markdown(_WHAT)
        return
    known = remembered_mapping(shop.catalogue, record_url())
    file = PastFile(given.name, given.getvalue(), shop.catalogue, known)
    mapping = mapping_part(file)
    if mapping is not None:
        _check(file, mapping, shop)


def _check(file: PastFile, mapping: ColumnMapping, shop: Shop) -> None:
    """What of the file is in order, what is not, and the import."""
    st.subheader("Check and import", anchor=False)
    sure = st.checkbox("Import doubtful values as they are", key=file.key("sure"))
    currency, ledger = shop.settings.currency, shop_record()[0]
    told = preview(file.data, file.name, shop.catalogue, currency, mapping, sure, shop.today, ledger)
    if told.whole:
        st.error("This file cannot be read.\n\n" + "\n".join(f"- {literal(str(f))}" for f in told.whole))
        return
    jobs = len(told.past.jobs) if told.past else 0
    rows = told.past.rows if told.past else 0
    st.markdown(
        f"**Jobs ready: {jobs:,}** (rows: {rows:,}). **Rows with errors: {told.rows_out:,}**. "
        f"Amounts are in {currency}."
    )
    if told.past and told.past.ignored:
        st.caption(f"Columns not used: {literal(', '.join(told.past.ignored))}.")
    _errors(file, told)
    st.download_button(
        "Download this matching (for the command line)", mapping_text(mapping), "mapping.toml",
        on_click="ignore", key=file.key("mapping"), type="tertiary",
    )  # fmt: skip
    if told.past:
        _import(file, told.past, mapping, shop)


def _errors(file: PastFile, told: Preview) -> None:
    if not told.groups:
        return
    st.dataframe(
        pd.DataFrame(
            [
                {"Column": group.column, "Error": group.wrong, "Allowed": group.allowed,
                 "Rows": group.count, "Lines": _lines(group)}
                for group in told.groups
            ]  # fmt: skip
        ),
        hide_index=True, key=file.key("errors"),
    )  # fmt: skip
    st.download_button(
        f"Download rows to correct ({told.rows_out:,})", told.to_mend, "rows-to-correct.csv", "text/csv",
        icon=":material/download:", on_click="ignore", key=file.key("to-mend"),
    )  # fmt: skip


def _lines(group: FaultGroup) -> str:
    more = ", …" if group.count > len(group.lines) else ""
    return ", ".join(str(line) for line in group.lines) + more


def _import(file: PastFile, past: PastJobs, mapping: ColumnMapping, shop: Shop) -> None:
    ledger, _ = shop_record()
    by = at_the_bench(ledger)
    if not st.button(f"Import {len(past.jobs):,} jobs", type="primary", key=file.key("go")):
        return
    if not by:
        st.error("Choose or enter your name first.")
        return
    try:
        done = import_past_jobs(past, ledger, by)
        remember(mapping, shop.catalogue, record_url())
    except TriageError as refusal:
        st.error(listed(refusal))
        return
    flash(
        "success",
        f"{done.added:,} jobs imported; {done.already:,} were already in the record. "
        "Learn from them under **Model check**.",
    )
    st.rerun()


if __name__ == "__main__":
    page()
    next_step("past_jobs")
