"""A running server, a browser that reaches nothing else, and where screenshots go."""

from __future__ import annotations

import os
import re
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest

from triage.workflows.background.kinds import KINDS
from triage.workflows.background.runner import stop

SIZES = {"desk": (1280, 800), "phone": (390, 844)}
SHOTS = Path(__file__).parents[2] / "screenshots"


def pytest_collection_modifyitems(items):
    for item in items:
        if Path(__file__).parent in item.path.parents:
            item.add_marker(pytest.mark.browser)


@pytest.fixture(scope="session")
def chromium_path():
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if not found:
        if os.environ.get("TRIAGE_REQUIRE_ALL"):
            pytest.fail("TRIAGE_REQUIRE_ALL is set and there is no chromium")
        pytest.skip("needs chromium")
    return found


def free_port():
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        return listener.getsockname()[1]


@pytest.fixture(scope="module")
def record(tmp_path_factory):
    """The record of a server: each file of tests has its own."""
    return tmp_path_factory.mktemp("server") / "record.sqlite"


@pytest.fixture(scope="module")
def server(chromium_path, record):
    """Address of `triage app`, started as a user starts it."""
    port = free_port()
    log = record.with_name("log")
    command = [sys.executable, "-c", "from triage.cli.main import run; run()", "app", "--port", str(port)]
    environment = {**os.environ, "TRIAGE_RECORD": str(record)}
    with log.open("w") as out, subprocess.Popen(command, stdout=out, stderr=out, env=environment) as process:
        address = f"http://127.0.0.1:{port}"
        try:
            wait_for(f"{address}/_stcore/health", process, log)
            yield address
        finally:
            process.terminate()
            process.wait(20)
            for kind in KINDS:  # long work outlives its server
                stop(kind, log.with_name("work"))


def wait_for(address, process, log, seconds=60):
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        assert process.poll() is None, log.read_text()
        try:
            with urllib.request.urlopen(address, timeout=2) as reply:
                if reply.status == 200:
                    return
        except OSError:
            time.sleep(0.2)
    pytest.fail(f"no server after {seconds} s: {log.read_text()}")


@pytest.fixture(scope="session")
def browser(chromium_path):
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        chromium = driver.chromium.launch(
            executable_path=chromium_path,
            headless=True,
            chromium_sandbox=False,
            # A name that is not this machine's resolves to nothing: the page must not need one.
            args=["--host-resolver-rules=MAP * ~NOTFOUND , EXCLUDE 127.0.0.1"],
        )
        yield chromium
        chromium.close()


class Visit:
    """One browser tab on the app, with what it asked for and complained of."""

    def __init__(self, context, address):
        self.page = context.new_page()
        self.address = address
        self.outside: list[str] = []
        self.complaints: list[str] = []
        self.page.on("request", self._note_request)
        self.page.on("console", self._note_complaint)
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))

    def _note_request(self, request):
        if not request.url.startswith((self.address, self.address.replace("http", "ws"), "data:", "blob:")):
            self.outside.append(request.url)

    def _note_complaint(self, message):
        # A page that is loaded by its own address asks there for its server before it asks at the root.
        probe = re.search(r"//[^/]+/\w+/_stcore/", message.location.get("url", ""))
        if message.type == "error" and not probe:
            self.complaints.append(message.text)

    def open(self, query=""):
        self.page.goto(self.address + query)
        self.idle()

    def idle(self, heading="Device"):
        """Wait until the script of the page with this heading has run and nothing on it is stale."""
        self.page.get_by_role("heading", name=heading, exact=True).wait_for(timeout=60_000)
        self.page.evaluate("window.lastSeenByTest = null")
        # Quiet for 400 ms in a row: a script may be about to start (a click is sent first), and
        # what a run left over is taken off the page only after it has ended.
        self.page.wait_for_function(
            """() => {
                const app = document.querySelector('[data-testid=stApp]');
                const main = document.querySelector('[data-testid=stMain]');
                const ready = app && main && app.dataset.testScriptState !== 'running'
                    && app.dataset.testConnectionState === 'CONNECTED'
                    && !document.querySelector(
                        '[data-stale=true], [data-testid=stSkeleton], [data-testid=stSpinner]');
                const count = ready ? main.querySelectorAll('*').length : -1;
                const last = window.lastSeenByTest;
                if (!ready || !last || last.count !== count || last.main !== main)
                    window.lastSeenByTest = {count, main, since: performance.now()};
                return ready && performance.now() - window.lastSeenByTest.since > 400;
            }""",
            timeout=60_000,
            polling=50,
        )

    def settled(self):
        """Wait until nothing on the page is still growing: a fold that opens moves what it holds."""
        self.page.wait_for_function(
            """() => new Promise(answer => {
                const main = document.querySelector('[data-testid=stMain]');
                const before = main.scrollHeight;
                setTimeout(() => answer(main.scrollHeight === before), 250);
            })"""
        )

    def shot(self, name):
        SHOTS.mkdir(exist_ok=True)
        self.page.screenshot(path=SHOTS / f"{name}.png")

    def full_shot(self, name):
        """The page scrolls inside its main part: grow the window to see all of it."""
        size = self.page.viewport_size
        tall = self.page.evaluate("document.querySelector('[data-testid=stMain]').scrollHeight")
        self.page.set_viewport_size({"width": size["width"], "height": tall + 10})
        self.page.wait_for_timeout(300)
        self.shot(name)
        self.page.set_viewport_size(size)


@pytest.fixture(params=SIZES)
def size(request):
    return request.param


@pytest.fixture
def visit(browser, server, size):
    width, height = SIZES[size]
    phone = size == "phone"
    context = browser.new_context(
        viewport={"width": width, "height": height},
        is_mobile=phone,
        has_touch=phone,
        device_scale_factor=2 if phone else 1,
        reduced_motion="reduce",
    )
    yield Visit(context, server)
    context.close()
