"""The price at which a rule stops holding, to the cent."""

from __future__ import annotations

from collections.abc import Callable

# A price is a whole number of steps; rounding takes off what floats leave behind.
DIGITS = 9


def highest(holds: Callable[[float], bool], top: float, step: float = 0.01) -> float | None:
    """Largest multiple of `step` in [0, top] at which a falling rule still holds.

    Returns None where it does not hold even at 0. The rule is taken to hold
    below the point returned; bisection finds that point on the re-solved plan.
    """
    if not holds(0.0):
        return None
    low, high = 0, int(round(top / step))
    if holds(high * step):
        return round(high * step, DIGITS)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if holds(middle * step) else (low, middle)
    return round(low * step, DIGITS)


def lowest(holds: Callable[[float], bool], top: float, step: float = 0.01) -> float | None:
    """Smallest multiple of `step` in [0, top] at which a rising rule holds; None if never."""
    below = highest(lambda x: not holds(x), top, step)
    if below is None:
        return 0.0
    return None if below >= top - step / 2 else round(below + step, DIGITS)
