"""Quick works of every fate, for the tests of long work."""

from __future__ import annotations

import os
import time

import psutil

from triage.errors import NotConvergedError

KINDS = {
    name: f"tests.workflows.fake_work:{name}"
    for name in ("adds", "refuses", "raises", "vanishes", "waits", "stubborn")
}


def adds(arguments, tell):
    tell({"words": "adding", "done": 1, "total": 2})
    return {"sum": sum(arguments["numbers"]), "nice": psutil.Process().nice()}


def refuses(arguments, tell):
    tell({"words": "trying"})
    raise NotConvergedError("chains disagree: $x$ <b>")


def raises(arguments, tell):
    raise RuntimeError("a fault of the program")


def vanishes(arguments, tell):
    tell({"words": "about to vanish"})
    os._exit(7)


def waits(arguments, tell):
    tell({"words": "block 1 of 4", "done": 1, "total": 4})
    tell({"words": "settling down"})
    time.sleep(60)


def stubborn(arguments, tell):
    import signal

    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    tell({"words": "deaf"})
    time.sleep(60)
