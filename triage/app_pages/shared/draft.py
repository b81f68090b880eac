"""What the device page is asked: a description, as far as it goes, and a price."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Draft:
    """One question put to the device page.

    toml : the description, as UNIT.toml text; its tier is "" until one is chosen.
    ask : asking price, money; None when it is not known.
    walk_in : the device is an owner's.
    """

    toml: str
    ask: float | None = None
    walk_in: bool = False


EMPTY = Draft("")

# A device of the invented bench at Saltmarsh Lane, so that a newcomer sees an answer at once.
DEMO = Draft(
    """\
[device]
name = "Dropped handset, grey tray"
tier = "top"
cause = "dropped"
battery = "suspect"

[ownership]
lock = "clear"
identity = "agrees"

[[finding]]
kind = "frame-bent"
severity = 1
zone = "corner"

[[finding]]
kind = "back-glass-cracked"
severity = 2

[[finding]]
kind = "antenna-flex-torn"
severity = 2
chance = "8 in 20"
""",
    ask=90.0,
)
