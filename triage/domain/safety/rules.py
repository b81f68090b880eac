"""The table of safety rules: what each act needs to be true of a device.

One table, `rules.toml`, is read by the planner, by the guard over a shop's own
catalogue and by the checker of the tests.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path
from typing import Literal, TypeAlias, get_args

import numpy as np

from triage.arrays import Bools
from triage.domain.documents import build, read_toml
from triage.domain.safety.facts import (
    BATTERY,
    LIQUID,
    OPENED,
    Battery,
    Facts,
    Liquid,
    Opened,
    Right,
)
from triage.errors import CatalogueError

# work: hands inside an opened device. warmth: to soften adhesive, 60 C at most. heat: rework heat.
# power: from its battery or a charger. bench-supply: limited, at the battery connector. judge-battery: to
# call a battery that was in doubt good or bad.
Act: TypeAlias = Literal[
    "closed-work", "open", "work", "pry", "warmth", "heat", "press", "charge", "power", "bench-supply",
    "solvent", "judge-battery", "take-out", "dry", "test", "close", "seal", "ship",
    "sell", "sell-on", "hand-back", "strip",
]  # fmt: skip
ACTS: tuple[Act, ...] = get_args(Act)
Source: TypeAlias = Literal["read", "memory", "derived", "common practice, no source"]


@dataclass(frozen=True)
class Rule:
    """Acts and the facts that all of them need; an empty fact allows every value.

    why : one sentence for the bench. mark, source : where the rule comes from.
    """

    slug: str
    acts: tuple[Act, ...]
    why: str
    battery: tuple[Battery, ...] = ()
    liquid: tuple[Liquid, ...] = ()
    opened: tuple[Opened, ...] = ()
    right_to_work: tuple[Right, ...] = ()
    right_to_sell: tuple[Right, ...] = ()
    mark: Source = "common practice, no source"
    source: str = ""

    def holds(self, known: Facts) -> Bools:
        """Whether the facts of the device meet it, shape of the facts; rights are asked apart."""
        met: Bools = self.grid[known.battery, known.liquid, known.opened]
        return met

    @cached_property
    def grid(self) -> Bools:
        """What it allows, shape (battery, liquid, opened)."""
        allowed = (
            np.array([not wanted or word in wanted for word in words], dtype=bool)
            for words, wanted in ((BATTERY, self.battery), (LIQUID, self.liquid), (OPENED, self.opened))
        )
        battery, liquid, opened = allowed
        grid: Bools = battery[:, None, None] & liquid[None, :, None] & opened[None, None, :]
        return grid


@dataclass(frozen=True, eq=False)
class Rules:
    """The whole table; told from another by identity, which is quicker than by its content."""

    rule: tuple[Rule, ...]

    def __repr__(self) -> str:
        """Short: a problem that is printed need not show the whole table."""
        return f"Rules({len(self.rule)} rules)"

    def asked(self, acts: Iterable[str]) -> tuple[Rule, ...]:
        """Rules that speak of any of some acts."""
        made = set(acts)
        return tuple(rule for rule in self.rule if made & set(rule.acts))

    def allow(self, acts: frozenset[str], known: Facts) -> Bools:
        """Whether all the acts may be done together, shape of the facts."""
        met: Bools = self._grid(acts)[known.battery, known.liquid, known.opened]
        return met

    def _grid(self, acts: frozenset[str]) -> Bools:
        """Where some acts may be done together, shape (battery, liquid, opened)."""
        known: Bools | None = self._grids.get(acts)
        if known is None:
            known = np.ones((len(BATTERY), len(LIQUID), len(OPENED)), dtype=bool)
            for rule in self.asked(acts):
                known &= rule.grid
            self._grids[acts] = known
        return known

    @cached_property
    def _grids(self) -> dict[frozenset[str], Bools]:
        return {}

    def broken(self, acts: Iterable[str], known: Facts) -> tuple[Rule, ...]:
        """Rules that some acts would break in one state."""
        return tuple(rule for rule in self.asked(acts) if not rule.holds(known))

    def without(self, slug: str) -> Rules:
        """The table with one rule taken out."""
        return Rules(tuple(rule for rule in self.rule if rule.slug != slug))


@cache
def load_rules() -> Rules:
    """The shipped table."""
    return build(Rules, read_toml(Path(__file__).with_name("rules.toml"), CatalogueError), CatalogueError)
