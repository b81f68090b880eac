"""The verdicts in words."""

from __future__ import annotations

from triage.policy.answer.assessment import Verdict

VERDICT_WORDS = {
    Verdict.TAKE: "take it",
    Verdict.CHECK: "check first",
    Verdict.PARTS: "take for parts",
    Verdict.LEAVE: "leave it",
}


def verdict_title(verdict: Verdict) -> str:
    """A verdict at the head of a line."""
    words = VERDICT_WORDS[verdict]
    return words[:1].upper() + words[1:]
