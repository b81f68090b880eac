"""The picture of the README: `python -m tests.browser.readme_picture` takes it anew from the demo device."""

from __future__ import annotations

import io
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from PIL import Image
from playwright.sync_api import sync_playwright

from tests.browser.conftest import SIZES, Visit, free_port, wait_for

PICTURE = Path(__file__).parents[2] / "docs" / "device-page.png"


def main() -> None:
    """Serve the app on a record of its own, and keep one small picture of the device page."""
    width, height = SIZES["desk"]
    port = free_port()
    command = [sys.executable, "-c", "from triage.cli.main import run; run()", "app", "--port", str(port)]
    with tempfile.TemporaryDirectory() as folder, (log := Path(folder, "log")).open("w") as out:
        record = {**os.environ, "TRIAGE_RECORD": str(Path(folder, "record.sqlite"))}
        with subprocess.Popen(command, stdout=out, stderr=out, env=record) as server:
            address = f"http://127.0.0.1:{port}"
            try:
                wait_for(f"{address}/_stcore/health", server, log)
                with sync_playwright() as driver:
                    chromium = driver.chromium.launch(
                        executable_path=shutil.which("chromium"), chromium_sandbox=False
                    )
                    visit = Visit(chromium.new_context(viewport={"width": width, "height": height}), address)
                    visit.open()
                    visit.settled()
                    seen = Image.open(io.BytesIO(visit.page.screenshot())).convert("RGB")
                    chromium.close()
            finally:
                server.terminate()
                server.wait(20)
    few = seen.quantize(96, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)
    few.save(PICTURE, optimize=True)


if __name__ == "__main__":
    main()
