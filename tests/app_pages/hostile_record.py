"""A record whose every free text is mark-up, and what must not be left of it on a page."""

from __future__ import annotations

import json
from datetime import date

from triage.domain.job.records import (
    Answer,
    Attempt,
    CheckMade,
    Comeback,
    Decision,
    FoundDamage,
    HandOver,
    Intake,
    LaterFate,
    LineChecked,
    LookedInside,
    Moved,
    PartFate,
    PartOrdered,
    Payment,
    Photo,
    Place,
    QuoteGiven,
    Stop,
    StopResolved,
)
from triage.domain.shop.shelf import PriceFound, ShelfPart

HOSTILE = (
    "<script>alert(1)</script> **b** $y$ :red[z] :smile: [l](http://w.example) `k` # h "
    f"www.w.example a@w.example שלום \u202e 🔥 {'W' * 60}"
)
LABEL = "<b>L</b> $y$ :red[z] "
# What would be read as mark-up, a formula, a colour, an emoji, code, a link.
MARKUP = ("<script>", "<b>", "**b**", "$y$", ":red[z]", ":smile:", "[l](", "http://w", "`k`", "www.w", "a@w",
          "\u202e")  # fmt: skip
DAY = date(2026, 11, 2)
TYPED = json.dumps(HOSTILE, ensure_ascii=False)
TOML = f"""\
[device]
name = {TYPED}
tier = "middle"
model = {TYPED}
technician = {TYPED}
battery = "sound"

[ownership]
proof_recorded = true

[[finding]]
kind = "port-pins-damaged"
severity = 2
note = {TYPED}
"""


def hostile_jobs(record):
    """Numbers of three jobs: one in work, one sold that came back once, one left; and a shelf and prices."""
    with record.writing(HOSTILE) as writing:
        at_work = _opened(writing, "1", "walk-in")
        for told in (
            FoundDamage("port-pins-damaged", zone=HOSTILE, note=HOSTILE),
            FoundDamage(HOSTILE),
            CheckMade("six-face-look", True, 5.0, HOSTILE),
            CheckMade(HOSTILE, False),
            LookedInside(HOSTILE),
            Stop(HOSTILE, "money"),
            Place(HOSTILE),
            Photo("none.jpg", "0" * 64, HOSTILE),
            Decision("take it", HOSTILE, HOSTILE, HOSTILE, TOML, 4000, 9000, 2000, 60.0, 3),
            Moved("take", "taken", DAY, note=HOSTILE),
            Moved("start", "in-work", DAY, note=HOSTILE),
            Attempt("port-pins-damaged", "not-fixed", "resolder-port", HOSTILE, 35.0, 900, None, HOSTILE),
            Attempt(HOSTILE, "not-attempted", HOSTILE, HOSTILE),
            LineChecked("solder-look", "fail", 1.0, HOSTILE, False, 0, HOSTILE),
            Payment("deposit", 900, DAY, HOSTILE),
        ):
            writing.append(at_work, told)
        resolved = writing.append(at_work, Stop(HOSTILE))
        writing.append(at_work, StopResolved(resolved, HOSTILE))
        quote = QuoteGiven(1, DAY, 9000, 11000, DAY, json.dumps(["port-pins-damaged", HOSTILE]), HOSTILE)
        writing.append(at_work, Answer(writing.append(at_work, quote), DAY, True, HOSTILE, HOSTILE, 11000))
        order = writing.append(at_work, PartOrdered("charge-port", HOSTILE, 900, 0, HOSTILE))
        writing.append(at_work, PartFate(order, DAY, "arrived", 0, HOSTILE))
        writing.append(at_work, PartOrdered(HOSTILE, HOSTILE, 900, 0, HOSTILE))
        sold = _opened(writing, "2", "bought")
        for told in (
            FoundDamage("port-pins-damaged"),
            Payment("purchase", -4000, DAY, HOSTILE),
            Moved("take", "taken", DAY),
            Attempt("port-pins-damaged", "fixed", "resolder-port", "", 35.0, 900, 900, HOSTILE),
            LookedInside(),
            Moved("make-ready", "ready", DAY),
            HandOver(DAY, "downgraded", HOSTILE, 90, HOSTILE, HOSTILE),
            Payment("sale", 15000, DAY, HOSTILE),
            Moved("sell", "sold", DAY, note=HOSTILE),
            Comeback(DAY, "same-fault", "open", 0, HOSTILE),
            Moved("come-back", "came-back", DAY, note=HOSTILE),
            Moved("send-back", "sold", DAY, note=HOSTILE),
        ):
            writing.append(sold, told)
        left = _opened(writing, "3", "bought")
        writing.append(left, Moved("decline", "declined", DAY, note=HOSTILE))
        writing.append(left, LaterFate(-2000, HOSTILE))
        writing.shelf_append(PriceFound("display", HOSTILE, 900, "EUR", DAY, 0, "", HOSTILE, HOSTILE))
        writing.shelf_append(PriceFound(HOSTILE, HOSTILE, 900, "EUR", DAY))
        writing.shelf_append(ShelfPart("torch", 500, "EUR", None, "", HOSTILE, "", True, False, HOSTILE))
        writing.shelf_append(ShelfPart(HOSTILE, 500, "EUR", None, HOSTILE, "", "", True, False, HOSTILE))
    return at_work, sold, left


def _opened(writing, number, route):
    told = Intake(
        DAY, TOML, HOSTILE, "middle", HOSTILE, HOSTILE, HOSTILE, 4000, None, HOSTILE, HOSTILE, HOSTILE,
        HOSTILE, "wanted", "no", True, HOSTILE, DAY,
    )  # fmt: skip
    return writing.open_job(LABEL + number, route, "EUR", told)
