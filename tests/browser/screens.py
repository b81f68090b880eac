"""Screenshots of every page: `python -m tests.browser.screens FOLDER` serves a small shop and takes them.

The devices of the demo are answered, and one of them is a job. Each page is taken whole, at the width of a
desktop, of a tablet and of a phone.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from tests.browser.conftest import free_port, wait_for
from triage.app_pages.shared.pages import PAGES
from triage.domain.job.records import Intake
from triage.ledger.drafts import StoredDraft, new_token, save_draft
from triage.ledger.opening import open_ledger
from triage.ledger.record import Ledger
from triage.shipped import shipped
from triage.workflows.jobs.intake import consider, look_at_battery
from triage.workflows.jobs.record_keeper import RecordKeeper
from triage.workflows.shop.shop import open_shop

SIZES = {"desk": (1280, 800), "tablet": (820, 1180), "phone": (390, 844)}
JOB_PARTS = 8


def drafts(ledger: Ledger) -> dict[str, str]:
    """Address of each demo device, by its name."""
    found = {}
    for file in sorted(shipped("synthetic_cases/devices").glob("*.toml")):
        save_draft(
            ledger, token := new_token(), StoredDraft(file.read_text(), 40.0, file.stem == "rain-handset")
        )
        found[file.stem] = f"/?device={token}"
        if file.stem == "rain-handset":
            found["quote"] = f"/quote?device={token}"
    return found


def job(ledger: Ledger) -> int:
    """A walk-in whose battery was looked at."""
    text = shipped("synthetic_cases/devices/rain-handset.toml").read_text()
    keeper = RecordKeeper(ledger, open_shop(), "Ada")
    intake = Intake(date.today(), text, name="handset from the rain", person="Bo Marsh", contact="0-555-0177")
    file = consider(keeper, intake, "walk-in")
    return look_at_battery(keeper, file.id, file.version).id


@contextmanager
def served(record: Path) -> Iterator[str]:
    """Address of the pages on a record."""
    port = free_port()
    command = [sys.executable, "-c", "from triage.cli.main import run; run()", "app", "--port", str(port)]
    log = record.with_name("log")
    environment = {**os.environ, "TRIAGE_RECORD": str(record)}
    with log.open("w") as out, subprocess.Popen(command, stdout=out, stderr=out, env=environment) as server:
        try:
            wait_for(f"http://127.0.0.1:{port}/_stcore/health", server, log)
            yield f"http://127.0.0.1:{port}"
        finally:
            server.terminate()


def settled(page: Page) -> None:
    """Wait until nothing on the page changes any more, for at most a minute."""
    page.wait_for_selector("[data-testid=stMain] h1", timeout=60_000)
    before = ""
    for _ in range(120):
        page.wait_for_timeout(500)
        now = page.locator("[data-testid=stMain]").inner_text()
        busy = page.locator("[data-testid=stSpinner], [data-testid=stSkeleton], [data-stale=true]").count()
        if now == before and not busy:
            return
        before = now


def take(page: Page, file: Path) -> None:
    """The whole page: it scrolls inside its main part, so the window grows to hold it."""
    settled(page)
    size = page.viewport_size
    tall = page.evaluate("document.querySelector('[data-testid=stMain]').scrollHeight")
    page.set_viewport_size({"width": size["width"], "height": max(size["height"], tall + 10)})
    page.wait_for_timeout(400)
    page.screenshot(path=file)
    page.set_viewport_size(size)


def main(folder: Path, sizes: list[str]) -> None:
    """Take every page in every size."""
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as home:
        record = Path(home, "record.sqlite")
        ledger = open_ledger(record)
        places = {**drafts(ledger), "job": f"/job?job={job(ledger)}"}
        ledger.close()
        places |= {name: f"/{name}" for name in PAGES if name not in ("device", "job", "quote")}
        with served(record) as address, sync_playwright() as driver:
            chromium = driver.chromium.launch(
                executable_path=shutil.which("chromium"), chromium_sandbox=False
            )
            for size in sizes or list(SIZES):
                width, height = SIZES[size]
                page = chromium.new_page(viewport={"width": width, "height": height})
                for name, place in places.items():
                    page.goto(address + place)
                    take(page, folder / f"{name}-{size}.png")
                    if name != "job":
                        continue
                    for number in range(1, JOB_PARTS):
                        page.get_by_role("radiogroup").first.get_by_role("radio").nth(number).click()
                        take(page, folder / f"job-{number}-{size}.png")
                page.close()
            chromium.close()


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2:])
