"""Bench time as it is said: minutes below an hour, then hours and minutes."""

from __future__ import annotations


def bench_time(minutes: float) -> str:
    """Write minutes as "45 min", "2 h" or "2 h 15 min"."""
    hours, rest = divmod(round(minutes), 60)
    return " ".join(f"{count} {unit}" for count, unit in ((hours, "h"), (rest, "min")) if count) or "0 min"
