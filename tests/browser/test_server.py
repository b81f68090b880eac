"""The door of the server: who is answered, with which headers, and how large a file may come in."""

from __future__ import annotations

import http.client
import io
import re
import socket
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.browser.by_hand import JOB, press, type_in, who_is_here
from tests.browser.test_every_page import go
from triage.app_pages.server import HEADERS

LOT = "Lot"


def parts(address):
    name, port = re.fullmatch(r"http://([\d.]+):(\d+)", address).groups()
    return name, int(port)


@pytest.mark.parametrize("path", ["/", "/_stcore/health", "/_stcore/host-config", "/job", "/nowhere.js"])
def test_a_name_lent_by_a_page_elsewhere_gets_no_answer(server, path):
    name, port = parts(server)
    for host, status in (
        (f"{name}:{port}", (200, 404)),
        ("localhost", (200, 404)),
        ("rebound.example", (400,)),
    ):
        connection = http.client.HTTPConnection(name, port, timeout=10)
        connection.request("GET", path, headers={"Host": host})
        reply = connection.getresponse()
        assert reply.status in status, (host, path)
        assert {key: reply.getheader(key) for key in HEADERS} == HEADERS
        connection.close()


@pytest.mark.parametrize(
    ("host", "origin", "opened"),
    [
        ("{address}", "http://{address}", True),
        ("rebound.example", "http://rebound.example", False),
        ("{address}", "http://elsewhere.example", False),
    ],
)
def test_no_socket_is_opened_to_a_name_or_a_page_elsewhere(server, host, origin, opened):
    name, port = parts(server)
    said = {"address": f"{name}:{port}"}
    with socket.create_connection((name, port), timeout=10) as line:
        line.sendall(
            (
                "GET /_stcore/stream HTTP/1.1\r\n"
                f"Host: {host.format(**said)}\r\nOrigin: {origin.format(**said)}\r\n"
                "Upgrade: websocket\r\nConnection: Upgrade\r\nSec-WebSocket-Version: 13\r\n"
                "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n"  # the example of RFC 6455
            ).encode()
        )
        status = line.recv(200).decode("latin-1").split(" ")[1]
    assert (status == "101") is opened, status


def photograph(megabytes: float) -> bytes:
    """A PNG of so many megabytes: noise does not compress."""
    side = int((megabytes * 1e6 / 3) ** 0.5)
    out = io.BytesIO()
    noise = np.random.default_rng(1).integers(0, 256, (side, side, 3), dtype=np.uint8)
    Image.fromarray(noise).save(out, "PNG")
    return out.getvalue()


@pytest.mark.parametrize("size", ["desk"])
def test_a_photograph_of_five_megabytes_and_a_lot_of_two_go_in(visit, size, tmp_path: Path):
    page = visit.page
    photo = tmp_path / "board.png"
    photo.write_bytes(photograph(5.2))
    assert 5_000_000 < photo.stat().st_size < 12_000_000
    visit.open()
    who_is_here(visit, "Ada")
    page.get_by_text("Save the demo device in my record anyway").click()
    page.get_by_role("button", name="Buy it", exact=True).click()
    visit.idle(JOB)
    page.get_by_text("Intake", exact=True).click()
    visit.idle(JOB)
    page.locator("input[type=file]").set_input_files(photo)
    page.get_by_test_id("stFileChipName").wait_for(timeout=30_000)
    visit.idle(JOB)
    type_in(visit, "Caption", "the board, front", JOB)
    press(visit, "Save photo", JOB)
    page.get_by_text("the board, front").first.wait_for(timeout=30_000)
    assert page.get_by_text("Choose a photo.").count() == 0

    lot = tmp_path / "long.csv"
    rows = "".join(f"A{n},upper,cell-worn/2,40,clear,agrees,{'x' * 200_000}\n" for n in range(10))
    lot.write_text("unit,tier,findings,ask,lock,identity,note\n" + rows)
    assert lot.stat().st_size > 2_000_000
    go(visit, size, "Lot", LOT)
    page.locator("input[type=file]").set_input_files(lot)
    page.get_by_test_id("stFileChipName").wait_for(timeout=30_000)
    visit.idle(LOT)
    page.get_by_role("button", name="Assess this lot").click()
    page.get_by_text("long.csv").last.wait_for(timeout=60_000)
    assert visit.complaints == [] and visit.outside == []
