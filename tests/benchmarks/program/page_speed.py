"""How long a page takes: `python -m tests.benchmarks.program.page_speed` (needs Chromium; some minutes).

Measured in the page, from the tap or the Enter key to the change of the text that holds the answer:

- a changed price, a ticked check result, a damage left out, under **What if?**: to the new answer there;
- **Get the verdict** after a tapped damage: to the new verdict of the page;
- a page of the menu, seen before: to its question, with the script at rest;
- from the start of `triage app` to the first verdict of the demo device.

Every change is one that was not asked before, so no kept answer is given again.
"""

from __future__ import annotations

import contextlib
import itertools
import json
import os
import platform
import resource
import shutil
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from playwright.sync_api import sync_playwright

from tests.browser.conftest import SIZES, Visit, free_port
from tests.browser.test_every_page import listed
from triage.shipped import shipped

RESULTS = Path(__file__).parents[1] / "results" / "page-speed.json"
PRICES = 6  # a device
# Invented wrecks with a check worth making, at about the price where it matters.
SUSPECTED = (("display-panel-dead", 88), ("main-rail-short", 134), ("display-glass-cracked", 129))
WRECK = """\
[device]
name = "{suspected}"
tier = "upper"
battery = "sound"

[ownership]
lock = "clear"
identity = "agrees"

[[finding]]
kind = "back-glass-cracked"

[[finding]]
kind = "{suspected}"
chance = "8 in 20"
"""
STARTS = 5
ANSWER = "[class*=st-key-device-what-if] [data-testid=stExpanderDetails]"
PAGE = "[data-testid=stMain]"

# The clock starts with what a hand does, and stops when `told` of the watched element changes.
CLOCK = """() => {
    window.clockOfTest = {};
    const begin = event => {
        if (event.type === 'keydown' && event.key !== 'Enter') return;
        window.clockOfTest.began = performance.now();
    };
    for (const kind of ['click', 'keydown']) document.addEventListener(kind, begin, true);
    window.watchOfTest = (place, told) => {
        const clock = window.clockOfTest;
        const said = () => {
            const seen = document.querySelector(place)?.innerText ?? '';
            return (seen.match(new RegExp(told, 's')) || [''])[0];
        };
        const before = said();
        clock.began = clock.took = null;
        clock.eyes?.disconnect();
        clock.eyes = new MutationObserver(() => {
            const now = said();
            if (clock.began !== null && clock.took === null && now && now !== before)
                clock.took = performance.now() - clock.began;
        });
        clock.eyes.observe(document.body, {subtree: true, childList: true, characterData: true});
    };
}"""
READ = "() => window.clockOfTest.took"
# The sentence with the verdict, and the figures after it.
TRIED, ANSWERED = (
    "New verdict: .*",
    r"(Buy|Buy for parts|Quote|Check first|Decline)[^\n]*\n.*Stop point[^\n]*",
)


@contextlib.contextmanager
def served(folder: Path):
    """`triage app` on a record of its own; yields its address and the moment it was started."""
    port = free_port()
    command = [sys.executable, "-c", "from triage.cli.main import run; run()", "app", "--port", str(port)]
    record = {**os.environ, "TRIAGE_RECORD": str(folder / "record.sqlite")}
    began = time.perf_counter()
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=record) as run:
        try:
            yield f"http://127.0.0.1:{port}", began
        finally:
            run.terminate()
            run.wait(20)


def answering(address: str, seconds: float = 60.0) -> None:
    """Wait until the server takes a connection, as a reader who presses reload does."""
    host, port = address.removeprefix("http://").split(":")
    until = time.monotonic() + seconds
    while True:
        try:
            socket.create_connection((host, int(port)), 1).close()
            return
        except OSError:
            if time.monotonic() > until:
                raise
            time.sleep(0.02)


def new_visit(chromium, address: str) -> Visit:
    """A tab at the desk's size."""
    width, height = SIZES["desk"]
    return Visit(chromium.new_context(viewport={"width": width, "height": height}), address)


def start_to_verdict(chromium) -> tuple[float, float]:
    """Seconds from the start of the program to the demo's verdict on the screen; its processor seconds."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    with tempfile.TemporaryDirectory() as folder, served(Path(folder)) as (address, began):
        page = new_visit(chromium, address).page
        answering(address)
        page.goto(address, wait_until="commit")
        page.get_by_text("Stop point").first.wait_for(timeout=60_000)
        took = time.perf_counter() - began
        page.context.close()
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return round(took, 2), round(spent, 2)


def timed(visit: Visit, place: str, told: str, act) -> float | None:
    """Milliseconds from what `act` does to the changed answer; None where the answer did not change."""
    visit.page.evaluate("([place, told]) => window.watchOfTest(place, told)", [place, told])
    act()
    visit.idle()
    return visit.page.evaluate(READ)


def take_up(visit: Visit, text: str, asked: int) -> None:
    """Paste a description, with a price."""
    page = visit.page
    visit.open()
    page.evaluate(CLOCK)
    opened(visit)
    enter(page.get_by_label("Asking price (EUR)"), asked)
    visit.idle()
    page.get_by_role("tab", name="Load a file").click()
    visit.settled()
    page.get_by_label("Or paste its text").fill(text)
    page.get_by_label("Or paste its text").press("Tab")
    visit.idle()
    page.get_by_role("button", name="Load device and get the verdict").click()
    page.get_by_text(f"asking price €{asked}.00").first.wait_for(timeout=60_000)
    visit.idle()


def opened(visit: Visit) -> None:
    """Unfold the description; a script that ends just then may fold it again."""
    for _ in range(5):
        if visit.page.get_by_role("button", name="Get the verdict").is_visible():
            return
        visit.page.locator("[class*=st-key-device-intake] summary").click()
        visit.idle()
        visit.settled()


def enter(field, figure: float) -> None:
    """Type a figure and press Enter."""
    field.fill(str(figure))
    field.press("Enter")


def tries(visit: Visit, asked: int) -> dict[str, list[float | None]]:
    """Prices, check results and damages under What if."""
    page = visit.page
    page.get_by_text("What if?").click()
    visit.idle()
    visit.settled()
    took: dict[str, list[float | None]] = {"price": [], "check": [], "damage": []}
    price = page.get_by_label("Try asking price (EUR)")
    for figure in range(asked - 25, asked - 25 + 9 * PRICES, 9):
        took["price"].append(timed(visit, ANSWER, TRIED, lambda figure=figure: enter(price, figure)))
    inside = page.locator(ANSWER)
    for group in inside.get_by_role("radiogroup").all():
        for words in ("fault found", "clear"):
            button = group.get_by_text(words, exact=True)
            took["check"].append(timed(visit, ANSWER, TRIED, button.click))
    counted = inside.get_by_test_id("stButtonGroup").filter(has_text="Damage included").get_by_role("button")
    for damage in range(min(4, counted.count())):
        if counted.count() > 1:
            took["damage"].append(timed(visit, ANSWER, TRIED, counted.nth(damage).click))
    return took


def worked_out(visit: Visit) -> list[float | None]:
    """A damage more by two taps in the form, then Get the verdict: from that tap to the new verdict."""
    page, took = visit.page, []
    for place, damage in (("battery well", "battery worn"), ("rear-camera bump", "torch dead"),
                          ("bottom edge", "charge port full of lint")):  # fmt: skip
        opened(visit)
        page.locator("[class*=-place]").get_by_text(place, exact=True).click()
        visit.idle()
        page.locator("[class*=-place-]").get_by_text(damage, exact=True).first.click()
        visit.idle()
        visit.settled()
        took.append(timed(visit, PAGE, ANSWERED, page.get_by_role("button", name="Get the verdict").click))
    return took


def pages(visit: Visit) -> dict[str, list[float]]:
    """Every page of the menu twice; what the second time takes, to its question with the script at rest."""
    page, took = visit.page, {}
    menu = list(listed())
    for again, (group, title, asked) in itertools.product((False, True), menu):
        section = page.get_by_test_id("stTopNavSection").filter(has_text=group)
        link = page.get_by_test_id("stTopNavPopover").get_by_text(title, exact=True)
        section.click()
        visit.settled()
        if not link.is_visible():
            section.click()
            link.wait_for()
        began = time.perf_counter()
        link.click()
        page.wait_for_function(
            """asked => document.querySelector('h1')?.innerText === asked
                && document.querySelector('[data-testid=stApp]').dataset.testScriptState !== 'running'
                && !document.querySelector('[data-stale=true], [data-testid=stSkeleton]')""",
            arg=asked, polling="raf", timeout=60_000,
        )  # fmt: skip
        spent = 1000 * (time.perf_counter() - began)
        visit.idle(asked)
        if again:
            took[title] = round(spent)
    return took


def summed(took: list[float | None]) -> dict[str, float | int]:
    """Median, 90th percentile and number of times."""
    times = sorted(time for time in took if time is not None)
    if not times:
        return {"taps": 0}
    cut = statistics.quantiles(times, n=10, method="inclusive")[8] if len(times) > 1 else times[0]
    return {"median": round(statistics.median(times)), "p90": round(cut), "taps": len(times)}


def main() -> None:
    """Measure, print and keep."""
    with sync_playwright() as driver:
        chromium = driver.chromium.launch(executable_path=shutil.which("chromium"), chromium_sandbox=False)
        starts, spent = zip(*(start_to_verdict(chromium) for _ in range(STARTS)), strict=True)
        took: dict[str, list[float | None]] = {"price": [], "check": [], "damage": [], "Get the verdict": []}
        with tempfile.TemporaryDirectory() as folder, served(Path(folder)) as (address, _):
            answering(address)
            visit = new_visit(chromium, address)
            devices = [(WRECK.format(suspected=kind), asked) for kind, asked in SUSPECTED]
            tablet = shipped("synthetic_cases/devices/harbour-tablet.toml").read_text(encoding="utf-8")
            for text, asked in (*devices, (tablet, 60)):
                take_up(visit, text, asked)
                for kind, times in tries(visit, asked).items():
                    took[kind] += times
                took["Get the verdict"] += worked_out(visit)
            changes = pages(visit)
        chromium.close()
    everything = [time for times in took.values() for time in times]
    told = {
        "load": [round(load, 1) for load in os.getloadavg()],
        "machine": f"{os.cpu_count()} cores, {platform.machine()}, Python {platform.python_version()}",
        "click to answer, ms": {"all": summed(everything), **{k: summed(t) for k, t in took.items()}},
        "without a change to see": sum(time is None for time in everything),
        "start to first verdict, s": {"median": statistics.median(starts), "runs": starts},
        "the program's processor time until then, s": {"median": statistics.median(spent), "runs": spent},
        "warm page change, ms": {"median": round(statistics.median(changes.values())), **changes},
    }
    sys.stdout.write(json.dumps(told, indent=1) + "\n")
    RESULTS.write_text(json.dumps(told, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
