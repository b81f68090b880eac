"""What the device page is asked: a description and a price, small enough for the address line."""

from __future__ import annotations

import base64
import json
import zlib
from dataclasses import asdict, dataclass

_MOST_LETTERS = 100_000


@dataclass(frozen=True)
class Draft:
    """One question put to the device page.

    toml : the description, as UNIT.toml text.
    ask : asking price, money; None when it is not known.
    walk_in : the device is an owner's.
    """

    toml: str
    ask: float | None = None
    walk_in: bool = False

    @property
    def code(self) -> str:
        """The draft as letters that may stand in an address."""
        packed = zlib.compress(json.dumps(asdict(self)).encode(), 9)
        return base64.urlsafe_b64encode(packed).decode().rstrip("=")

    @classmethod
    def from_code(cls, code: str) -> Draft | None:
        """Read `code` back; None when it is not one."""
        try:
            packed = base64.urlsafe_b64decode(code + "=" * (-len(code) % 4))
            told = json.loads(zlib.decompressobj().decompress(packed, _MOST_LETTERS))
            toml, ask, walk_in = told["toml"], told["ask"], told["walk_in"]
        except (ValueError, zlib.error, KeyError, TypeError):
            return None
        if not isinstance(toml, str) or not isinstance(walk_in, bool):
            return None
        priced = isinstance(ask, int | float) and not isinstance(ask, bool) and 0 <= ask <= 1e7
        if ask is not None and not priced:
            return None
        return cls(toml, None if ask is None else float(ask), walk_in)


EMPTY = Draft("")

# A device of the invented bench at Saltmarsh Lane, so that a newcomer sees an answer at once.
DEMO = Draft(
    """\
[device]
name = "Dropped handset, grey tray"
tier = "top"
cause = "dropped"
battery = "suspect"

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
