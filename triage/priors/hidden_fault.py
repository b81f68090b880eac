"""What is believed of hidden faults before the shop's record speaks."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Annotated

from pydantic import Field

from triage.domain.catalogue import Catalogue
from triage.domain.documents import Document
from triage.errors import Fault, nearest
from triage.priors.beliefs import NormalBelief, OpenChance, Scale, entry_slugs, slug_faults

# That a look shows a fault that is there.
LookChance = Annotated[float, Field(gt=0, le=1, allow_inf_nan=False)]
SeverityFactor = Annotated[float, Field(ge=0, le=5, allow_inf_nan=False)]


@dataclass(frozen=True)
class HiddenChance:
    """Chance that a hidden fault is there on a device without any damage that raises it.

    look : chance that a look deep enough shows it; None takes that of all kinds.
    """

    slug: str
    chance: OpenChance
    log_odds_sd: Scale
    look: LookChance | None = None
    reason: str = ""


@dataclass(frozen=True)
class RaisingWeight:
    """Log odds that a damage of severity 2 adds to a hidden fault."""

    finding: str
    hidden: str
    log_odds: Annotated[float, Field(ge=0, le=6, allow_inf_nan=False)]
    reason: str = ""


@dataclass(frozen=True)
class HiddenFaultPriors:
    """Prior file of the hidden-fault model.

    chance, log_odds_sd : for a hidden kind without an entry of its own.
    weight : log odds that a raising damage of severity 2 adds, for a pair
        without an entry; its sd is that of the error shared by all pairs.
    weight_scale : how far single pairs are believed to stray from theirs.
    look : chance that a look deep enough shows a fault that is there. A plan takes such a
        look as settling it, so 1 unless the shop knows better; no record tells it.
    suspected : log odds that a look adds which was made because a fault was suspected.
    severity_factor : what a weight is multiplied by at severity 1, 2 and 3.
    """

    chance: OpenChance = 0.04
    log_odds_sd: Scale = 0.8
    weight: NormalBelief = NormalBelief(1.0, 0.4, "a raising finding about triples the odds")
    weight_scale: Scale = 0.5
    look: LookChance = 1.0
    suspected: NormalBelief = NormalBelief(
        1.0,
        0.7,
        "a look on suspicion finds a fault about three times as often: common practice, no source",
    )
    severity_factor: tuple[SeverityFactor, SeverityFactor, SeverityFactor] = (0.6, 1.0, 1.4)
    hidden: tuple[HiddenChance, ...] = ()
    raising: tuple[RaisingWeight, ...] = ()
    note: str = ""

    @cached_property
    def _by_kind(self) -> dict[str, HiddenChance]:
        return {entry.slug: entry for entry in self.hidden}

    @cached_property
    def _by_pair(self) -> dict[tuple[str, str], float]:
        return {(entry.finding, entry.hidden): entry.log_odds for entry in self.raising}

    def base(self, kind: str) -> tuple[float, float]:
        """Chance of a hidden kind with nothing that raises it, and its sd in log odds."""
        entry = self._by_kind.get(kind)
        return (self.chance, self.log_odds_sd) if entry is None else (entry.chance, entry.log_odds_sd)

    def look_shows(self, kind: str) -> float:
        """Chance that a look deep enough shows a hidden kind that is there."""
        entry = self._by_kind.get(kind)
        return self.look if entry is None or entry.look is None else entry.look

    def log_odds_added(self, finding: str, hidden: str) -> float:
        """Log odds that a damage of severity 2 is believed to add to a hidden kind."""
        return self._by_pair.get((finding, hidden), self.weight.mean)


def raising_pairs(catalogue: Catalogue) -> tuple[tuple[str, str], ...]:
    """Every (damage's kind, hidden kind it makes likelier), in catalogue order."""
    hidden = {kind.slug for kind in catalogue.hidden_kinds}
    return tuple(
        (kind.slug, raised)
        for kind in catalogue.kind
        for raised in kind.raises
        if raised in hidden and raised != kind.slug
    )


def pair_label(finding: str, hidden: str) -> str:
    """Name a pair as the models' `pair` dimension does."""
    return f"{finding} raises {hidden}"


def faults(priors: HiddenFaultPriors, document: Document, catalogue: Catalogue) -> Iterator[Fault]:
    """Yield hidden kinds and raising pairs that the catalogue does not have."""
    hidden = [kind.slug for kind in catalogue.hidden_kinds]
    yield from slug_faults(document, "hidden", entry_slugs(priors, "hidden"), hidden, "hidden kind")
    for index, entry in enumerate(priors.raising):
        line, words = document.line(("raising", index)), f"raising {index + 1}"
        kind = catalogue.kinds.get(entry.finding)
        if kind is None:
            wrong = f"{entry.finding!r} is not a damage kind" + nearest(entry.finding, catalogue.kinds)
            yield Fault(document.name, line, f"{words}, finding", wrong, "a damage kind of the catalogue")
        elif entry.hidden not in kind.raises:
            wrong = f"{entry.finding} does not raise {entry.hidden!r}" + nearest(entry.hidden, kind.raises)
            allowed = ", ".join(kind.raises) or "nothing: it raises no hidden kind"
            yield Fault(document.name, line, f"{words}, hidden", wrong, allowed)
