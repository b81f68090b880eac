"""States, moves, grades and reasons to wait, as pages and refusals name them."""

from __future__ import annotations

from triage.domain.job.life import JobMove, JobState, WaitFor
from triage.domain.job.records import Grade

STATE_WORDS: dict[JobState, str] = {
    "considered": "awaiting decision",
    "declined": "declined",
    "taken": "accepted",
    "in-work": "in progress",
    "waiting": "on hold",
    "verified": "final check done",
    "ready": "ready for hand-over",
    "sold": "sold",
    "returned-fixed": "returned repaired",
    "returned-unfixed": "returned unrepaired",
    "stripped": "stripped for parts",
    "disposed": "disposed of",
    "uncollected": "uncollected",
    "came-back": "back under warranty",
}
MOVE_WORDS: dict[JobMove, str] = {
    "decline": "Leave it",
    "reconsider": "Reconsider",
    "take": "Take it",
    "start": "Start work",
    "wait": "Put on hold",
    "resume": "Resume work",
    "verify": "Complete final check",
    "reopen": "Reopen job",
    "make-ready": "Mark ready for hand-over",
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
GRADE_WORDS: dict[Grade, str] = {
    "working": "fully working",
    "downgraded": "limited function",
    "unfixed": "not repaired",
    "parts": "parts only",
}
