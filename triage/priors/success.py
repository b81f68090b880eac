"""What a shop believes of its success chances before its record speaks.

One assumption a kind, at severity 2: "chance .85, worth 6 jobs" means that the
chance varies with the sd `sqrt(.85 x .15 / 7)`, as after six such jobs. A kind
the file does not name takes the default assumption, so that any shop's
catalogue can be fitted.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from typing import Annotated

from pydantic import Field

from triage.domain.catalogue import Catalogue
from triage.domain.documents import Document
from triage.errors import Fault
from triage.priors.beliefs import NormalBelief, entry_slugs, slug_faults

OpenChance = Annotated[float, Field(gt=0, lt=1, allow_inf_nan=False)]
Positive = Annotated[float, Field(gt=0, le=1000, allow_inf_nan=False)]


@dataclass(frozen=True)
class Belief:
    """A chance for a fresh job at severity 2 and average effects, and what it is worth.

    jobs : how many jobs' experience stands behind it.
    """

    chance: OpenChance
    jobs: Positive
    reason: str = ""


@dataclass(frozen=True)
class KindBelief:
    """The assumption about one damage kind."""

    slug: str
    chance: OpenChance
    jobs: Positive
    reason: str = ""


@dataclass(frozen=True)
class SeverityBelief:
    """How much worse each grade of severity is, on the logit scale.

    step : usual drop from one grade to the next.
    step_spread : log-scale sd of the shop's own usual drop about `step`.
    family_spread : log-scale sd of a family's drop about the shop's.
    kind_spread : log-scale sd of a kind's drop about its family's.
    """

    step: Positive = 0.7
    step_spread: Positive = 0.4
    family_spread: Positive = 0.4
    kind_spread: Positive = 0.4
    reason: str = ""


@dataclass(frozen=True)
class SuccessScales:
    """Sizes of the effects, on the logit scale.

    shop : sd of the whole shop's distance from its assumptions.
    kind_spread : log-scale sd of the factor (mean square 1) by which kinds without an assumption
        of their own stray from the default more or less than it says.
    family : median of the log-normal prior of the sd between families, from five families on.
    family_fixed : sd between fewer families.
    factor : median of the log-normal prior of the sd between the levels of a
        factor (tier, technician, cause) with five levels or more.
    factor_fixed : sd between the levels of a factor with fewer.
    job : scale of the half-normal prior of the job effect's sd.
    drift : median of the log-normal prior of the sd of the shop's drift in a quarter.
    """

    shop: Positive = 1.0
    kind_spread: Positive = 0.4
    family: Positive = 0.35
    family_fixed: Positive = 0.5
    factor: Positive = 0.35
    factor_fixed: Positive = 0.5
    job: Positive = 1.0
    drift: Positive = 0.07
    reason: str = ""


def _after_failure() -> NormalBelief:
    return NormalBelief(1.0, 0.5, "what beat one method often beats the next: 17 in 20 falls to 2 in 3")


@dataclass(frozen=True)
class SuccessPriors:
    """Everything the success model is told beforehand; fields are those of the TOML file.

    after_failure : how much another method's logit is lower once a first
        method has failed on the same finding.
    invented : they began as the demo's, which are invented; no assumption itself, so not in the digest.
    """

    kind: tuple[KindBelief, ...] = ()
    default: Belief = field(default_factory=lambda: Belief(0.75, 8.0, "a kind no one has spoken for"))
    severity: SeverityBelief = field(default_factory=SeverityBelief)
    scales: SuccessScales = field(default_factory=SuccessScales)
    after_failure: NormalBelief = field(default_factory=_after_failure)
    note: str = ""
    invented: bool = field(default=False, repr=False)

    @cached_property
    def beliefs(self) -> dict[str, KindBelief]:
        """Assumptions by kind."""
        return {belief.slug: belief for belief in self.kind}

    def belief(self, kind: str) -> Belief:
        """The assumption about a kind, or the default."""
        found = self.beliefs.get(kind)
        return self.default if found is None else Belief(found.chance, found.jobs, found.reason)


def faults(priors: SuccessPriors, document: Document, catalogue: Catalogue) -> Iterator[Fault]:
    """Yield what does not fit the catalogue."""
    yield from slug_faults(document, "kind", entry_slugs(priors, "kind"), catalogue.kinds, "damage kind")
