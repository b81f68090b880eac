"""The price at which a rule stops holding, to the cent."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from functools import cache

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


# Stretches that a search by pieces starts from.
_STRETCHES = 16


def before_first_miss(
    holds: Callable[[int], bool], piece: Callable[[int], Hashable], last: int
) -> int | None:
    """Last whole number up to `last` below which a rule never fails; None where it fails at 0.

    A rule may fail, and hold again further up where another plan takes over: such prices are not told.

    Parameters
    ----------
    piece : what a number has in common with its neighbours, such as the plan made for it; among the
        numbers of one piece the rule only falls. Two numbers and the one halfway between that have the
        same are taken for one piece.
    """
    holds, piece = cache(holds), cache(piece)

    def first_miss(low: int, high: int) -> int | None:
        """The first in (low, high] that misses; the rule holds at `low`."""
        if high - low <= 1:
            return None if high == low or holds(high) else high
        middle = (low + high) // 2
        if piece(low) == piece(high) == piece(middle):
            if holds(high):
                return None
            while high - low > 1:
                middle = (low + high) // 2
                low, high = (middle, high) if holds(middle) else (low, middle)
            return high
        return first_miss(low, middle) or first_miss(middle, high)

    if not holds(0):
        return None
    edges = sorted({last * place // _STRETCHES for place in range(_STRETCHES + 1)})
    for low, high in zip(edges[:-1], edges[1:], strict=True):
        if miss := first_miss(low, high):
            return miss - 1
    return last
