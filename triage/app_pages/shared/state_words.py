"""States and moves of a job in the words of the bench."""

from __future__ import annotations

from triage.domain.job.life import JobMove, JobState

STATE_WORDS: dict[JobState, str] = {
    "considered": "being considered",
    "declined": "left",
    "taken": "taken in",
    "in-work": "in work",
    "waiting": "waiting",
    "verified": "final check done",
    "ready": "ready to hand over",
    "sold": "sold",
    "returned-fixed": "given back fixed",
    "returned-unfixed": "given back not fixed",
    "stripped": "stripped for parts",
    "disposed": "disposed of",
    "uncollected": "not fetched",
    "came-back": "came back",
}
MOVE_WORDS: dict[JobMove, str] = {
    "decline": "Leave it",
    "reconsider": "Think again",
    "take": "Take it",
    "start": "Start work",
    "wait": "Let it wait",
    "resume": "Go on with work",
    "verify": "Final check is done",
    "reopen": "Open it again",
    "make-ready": "Ready to hand over",
    "sell": "Sell it",
    "return-fixed": "Give it back fixed",
    "return-unfixed": "Give it back not fixed",
    "strip": "Strip it for parts",
    "dispose": "Dispose of it",
    "leave-uncollected": "Nobody fetches it",
    "come-back": "It came back",
    "rework": "Work on it again",
    "take-back": "Take it back",
    "send-back": "Send it back",
}
WAIT_WORDS = {
    "part": "a part",
    "owner-answer": "the owner's answer",
    "payment": "a payment",
    "tool": "a tool",
}
