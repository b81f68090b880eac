"""Chances as counts out of twenty: one denominator everywhere, so they can be compared."""

from __future__ import annotations


def in_twenty(chance: float) -> str:
    """Write a chance as "17 in 20"; only what is certain is "20 in 20" or "0 in 20"."""
    count = round(20 * chance)
    if count == 20 and chance < 1:
        return "more than 19 in 20"
    if count == 0 and chance > 0:
        return "less than 1 in 20"
    return f"{count} in 20"


def forecast_in_twenty(chance: float) -> str:
    """Write the chance of an outcome of work, which is never certain: no "0 in 20", no "20 in 20"."""
    return in_twenty(min(max(chance, 1e-9), 1 - 1e-9))


def with_signs(count: str) -> str:
    """Shorten a count for a narrow place: "< 1 in 20" for "less than 1 in 20"."""
    return count.replace("less than ", "< ").replace("more than ", "> ")
