"""The life of a job: which state it can be in, and which move leads where.

The table is the specification. What a move needs besides its state (an open
stop, a final check, an owner's yes) is in `job_rules.py`.
"""

from __future__ import annotations

from typing import Literal, get_args

JobRoute = Literal["bought", "walk-in"]
JobState = Literal[
    "considered", "declined", "taken", "in-work", "waiting", "verified", "ready", "sold", "returned-fixed",
    "returned-unfixed", "stripped", "disposed", "uncollected", "came-back",
]  # fmt: skip
JobMove = Literal[
    "decline", "reconsider", "take", "start", "wait", "resume", "verify", "reopen", "make-ready", "sell",
    "return-fixed", "return-unfixed", "strip", "dispose", "leave-uncollected", "come-back", "rework",
    "take-back", "send-back",
]  # fmt: skip
WaitFor = Literal["part", "owner-answer", "payment", "tool"]

STATES: tuple[JobState, ...] = get_args(JobState)
MOVES: tuple[JobMove, ...] = get_args(JobMove)
ROUTES: tuple[JobRoute, ...] = get_args(JobRoute)
WAITS: tuple[WaitFor, ...] = get_args(WaitFor)

# States in which the shop has the unit and owes it work or a place to go.
OPEN: tuple[JobState, ...] = ("taken", "in-work", "waiting", "verified", "ready", "uncollected", "came-back")
# States that end a job, until it comes back.
ENDED: tuple[JobState, ...] = ("sold", "returned-fixed", "returned-unfixed", "stripped", "disposed")

# How pages and refusals name states, moves and reasons to wait.
STATE_WORDS: dict[JobState, str] = {
    "considered": "awaiting decision",
    "declined": "declined",
    "taken": "accepted",
    "in-work": "in progress",
    "waiting": "on hold",
    "verified": "final check done",
    "ready": "ready for sale or collection",
    "sold": "sold",
    "returned-fixed": "returned repaired",
    "returned-unfixed": "returned unrepaired",
    "stripped": "stripped for parts",
    "disposed": "disposed of",
    "uncollected": "uncollected",
    "came-back": "back under warranty",
}
MOVE_WORDS: dict[JobMove, str] = {
    "decline": "Decline it",
    "reconsider": "Reconsider",
    "take": "Accept it",
    "start": "Start work",
    "wait": "Put on hold",
    "resume": "Resume work",
    "verify": "Complete final check",
    "reopen": "Reopen job",
    "make-ready": "Mark as ready",
    "sell": "Record sale",
    "return-fixed": "Return repaired",
    "return-unfixed": "Return unrepaired",
    "strip": "Strip for parts",
    "dispose": "Record disposal",
    "leave-uncollected": "Mark as uncollected",
    "come-back": "Record comeback",
    "rework": "Rework",
    "take-back": "Take back",
    "send-back": "Send back",
}
WAIT_WORDS: dict[WaitFor, str] = {
    "part": "a part",
    "owner-answer": "the owner's answer",
    "payment": "a payment",
    "tool": "a tool",
}

_BOTH: dict[JobState, dict[JobMove, JobState]] = {
    "considered": {"decline": "declined", "take": "taken"},
    "declined": {"reconsider": "considered"},
    "taken": {"start": "in-work", "wait": "waiting", "dispose": "disposed"},
    "in-work": {"wait": "waiting", "verify": "verified", "dispose": "disposed"},
    "waiting": {"resume": "in-work", "dispose": "disposed"},
    "verified": {"reopen": "in-work", "make-ready": "ready", "dispose": "disposed"},
    "ready": {"reopen": "in-work"},
    "sold": {"come-back": "came-back"},
    "returned-fixed": {},
    "returned-unfixed": {},
    "stripped": {},
    "disposed": {},
    "uncollected": {},
    "came-back": {"rework": "in-work", "take-back": "taken"},
}
_OWN: dict[JobRoute, dict[JobState, dict[JobMove, JobState]]] = {
    # What the shop owns is sold or stripped.
    "bought": {
        "taken": {"strip": "stripped"},
        "in-work": {"strip": "stripped"},
        "waiting": {"strip": "stripped"},
        "verified": {"strip": "stripped"},
        "ready": {"sell": "sold", "strip": "stripped", "dispose": "disposed"},
        "came-back": {"send-back": "sold"},
    },
    # What an owner owns goes back to them with all its parts. One they never
    # fetch may be sold or disposed of only as the law allows.
    "walk-in": {
        "taken": {"return-unfixed": "returned-unfixed", "leave-uncollected": "uncollected"},
        "in-work": {"return-unfixed": "returned-unfixed"},
        "waiting": {"return-unfixed": "returned-unfixed", "leave-uncollected": "uncollected"},
        "verified": {"return-unfixed": "returned-unfixed"},
        "ready": {
            "return-fixed": "returned-fixed",
            "return-unfixed": "returned-unfixed",
            "leave-uncollected": "uncollected",
        },
        "uncollected": {
            "return-fixed": "returned-fixed",
            "return-unfixed": "returned-unfixed",
            "sell": "sold",
            "dispose": "disposed",
        },
        "returned-fixed": {"come-back": "came-back"},
        "returned-unfixed": {"come-back": "came-back"},
        "came-back": {"send-back": "returned-fixed"},
    },
}


def moves_from(state: JobState, route: JobRoute) -> dict[JobMove, JobState]:
    """Moves that a state allows on a route, and where each leads."""
    return {**_BOTH[state], **_OWN[route].get(state, {})}


def after(state: JobState, move: JobMove, route: JobRoute) -> JobState | None:
    """State that a move leads to, or None where the table has no such move."""
    return moves_from(state, route).get(move)
