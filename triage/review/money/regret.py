"""Declined devices whose later result is known: the value of having declined them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class PassedUnit:
    """A declined device; money, major units.

    ask : what was asked; None where nothing was. expected_margin : what the
    plan promised at that price; None where it was not priced. fate_margin :
    what it would have kept, as was learned later; None while that is not known.
    source : where that is known from.
    """

    label: str
    ask: float | None
    expected_margin: float | None
    fate_margin: float | None
    source: str = ""


@dataclass(frozen=True)
class Regret:
    """What declining devices cost and saved, over those whose later result is known.

    known, unknown : units with and without a known fate. would_have_earned :
    how many of the known ones. forgone : money those would have kept. spared :
    money that the others would have lost, zero or more. expected_gap : fate
    less promise, mean over those that have both; None where none has. units :
    the known ones, highest margin first.
    """

    known: int
    unknown: int
    would_have_earned: int
    forgone: float
    spared: float
    expected_gap: float | None
    units: tuple[PassedUnit, ...]


def regret(passed: Sequence[PassedUnit]) -> Regret:
    """Sum over declined devices; those whose later result is not known are only counted."""
    told = [(unit.fate_margin, unit) for unit in passed if unit.fate_margin is not None]
    told.sort(key=lambda pair: -pair[0])
    fates = [fate for fate, _ in told]
    gaps = [fate - unit.expected_margin for fate, unit in told if unit.expected_margin is not None]
    return Regret(
        known=len(told),
        unknown=len(passed) - len(told),
        would_have_earned=sum(fate > 0 for fate in fates),
        forgone=float(sum(fate for fate in fates if fate > 0)),
        spared=float(-sum(fate for fate in fates if fate < 0)),
        expected_gap=sum(gaps) / len(gaps) if gaps else None,
        units=tuple(unit for _, unit in told),
    )
