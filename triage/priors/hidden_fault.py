"""What is believed of hidden faults before the shop's record speaks."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Annotated

from pydantic import Field

from triage.priors.beliefs import NormalBelief, OpenChance, Scale, Words

SeverityFactor = Annotated[float, Field(ge=0, le=5, allow_inf_nan=False)]


@dataclass(frozen=True)
class HiddenChance:
    """Chance that a hidden fault is there on a unit without any finding that raises it."""

    kind: str
    chance: OpenChance
    log_odds_sd: Scale
    reason: Words


@dataclass(frozen=True)
class RaisingWeight:
    """Log odds that a finding of severity 2 adds to a hidden fault."""

    finding: str
    hidden: str
    log_odds: Annotated[float, Field(ge=0, le=6, allow_inf_nan=False)]
    reason: Words


@dataclass(frozen=True)
class HiddenFaultPriors:
    """Prior file of the hidden-fault model.

    chance, log_odds_sd : for a hidden kind without an entry of its own.
    weight : log odds that a raising finding of severity 2 adds, for a pair
        without an entry; its sd is that of the error shared by all pairs.
    weight_scale : half-normal scale of how far single pairs stray from theirs.
    severity_factor : what a weight is multiplied by at severity 1, 2 and 3.
    """

    note: Words
    chance: OpenChance
    log_odds_sd: Scale
    weight: NormalBelief
    weight_scale: Scale
    severity_factor: tuple[SeverityFactor, SeverityFactor, SeverityFactor] = (0.6, 1.0, 1.4)
    hidden: tuple[HiddenChance, ...] = ()
    raising: tuple[RaisingWeight, ...] = ()

    @cached_property
    def _by_kind(self) -> dict[str, HiddenChance]:
        return {entry.kind: entry for entry in self.hidden}

    @cached_property
    def _by_pair(self) -> dict[tuple[str, str], float]:
        return {(entry.finding, entry.hidden): entry.log_odds for entry in self.raising}

    def base(self, kind: str) -> tuple[float, float]:
        """Chance of a hidden kind with nothing that raises it, and its sd in log odds."""
        entry = self._by_kind.get(kind)
        return (self.chance, self.log_odds_sd) if entry is None else (entry.chance, entry.log_odds_sd)

    def log_odds_added(self, finding: str, hidden: str) -> float:
        """Log odds that a finding of severity 2 is believed to add to a hidden kind."""
        return self._by_pair.get((finding, hidden), self.weight.mean)
