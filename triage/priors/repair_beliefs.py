"""What a shop believes about its repairs, symptoms and checks, where no model is fitted.

A repair, symptom or check that the file does not name takes the defaults of
its dataclass.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from typing import Annotated

from pydantic import Field

from triage.domain.catalogue import Catalogue
from triage.domain.documents import Document
from triage.errors import Fault, nearest
from triage.priors.beliefs import entry_slugs, slug_faults

Share = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]
OpenShare = Annotated[float, Field(gt=0, lt=1, allow_inf_nan=False)]
Logit = Annotated[float, Field(ge=-10, le=10, allow_inf_nan=False)]
Positive = Annotated[float, Field(gt=0, le=10_000, allow_inf_nan=False)]

# From this many jobs on, a check's accuracy is taken as known.
KNOWN_AFTER = 100_000.0


@dataclass(frozen=True)
class RepairBelief:
    """One repair.

    collateral_chance : chance that doing it damages something else.
    collateral_cost_share : what that costs, as a share of the working price.
    salvage_share : share of the unit's parts value still there after it failed.
    method_logit : how it compares with the kind's usual method, logit scale;
        used only where it is another method.
    method_jobs : how many jobs' experience stands behind `method_logit`.
    """

    slug: str
    collateral_chance: Share = 0.02
    collateral_cost_share: Share = 0.1
    salvage_share: Share = 0.9
    method_logit: Logit = 0.0
    method_jobs: Positive = 4.0
    reason: str = ""

    @property
    def method_sd(self) -> float:
        """Sd of `method_logit`: that of a logit after `method_jobs` even-odds jobs."""
        return 2.0 / self.method_jobs**0.5


@dataclass(frozen=True)
class SymptomBelief:
    """How one symptom spreads over its causes; what is missing from 1 is "no fault found"."""

    slug: str
    causes: dict[str, Share] = field(default_factory=dict)
    reason: str = ""


@dataclass(frozen=True)
class CheckBelief:
    """One check: bench minutes, and how often it is right.

    sensitivity : chance that it finds a fault that is there.
    specificity : chance that it finds nothing where there is nothing.
    jobs : how many jobs' experience stands behind each; taken as known from
        `KNOWN_AFTER` jobs on.
    """

    slug: str
    minutes: Positive = 8.0
    sensitivity: OpenShare = 0.8
    specificity: OpenShare = 0.9
    jobs: Annotated[float, Field(gt=0, le=1e9, allow_inf_nan=False)] = 20.0
    reason: str = ""


@dataclass(frozen=True)
class RepairBeliefs:
    """Assumptions about repairs, symptoms and checks; fields are those of the TOML file."""

    repair: tuple[RepairBelief, ...] = ()
    symptom: tuple[SymptomBelief, ...] = ()
    check: tuple[CheckBelief, ...] = ()
    note: str = ""

    @cached_property
    def repairs(self) -> dict[str, RepairBelief]:
        """Assumptions by repair."""
        return {belief.slug: belief for belief in self.repair}

    @cached_property
    def symptoms(self) -> dict[str, SymptomBelief]:
        """Assumptions by symptom."""
        return {belief.slug: belief for belief in self.symptom}

    @cached_property
    def checks(self) -> dict[str, CheckBelief]:
        """Assumptions by check."""
        return {belief.slug: belief for belief in self.check}

    def repair_belief(self, repair: str) -> RepairBelief:
        """The assumption about a repair, or the defaults."""
        return self.repairs.get(repair) or RepairBelief(repair)

    def check_belief(self, check: str) -> CheckBelief:
        """The assumption about a check, or the defaults."""
        return self.checks.get(check) or CheckBelief(check)

    def causes(self, symptom: str, catalogue: Catalogue) -> dict[str, float]:
        """Chance of each cause of a symptom; equal shares of .9 where nothing is stated."""
        stated = self.symptoms.get(symptom)
        if stated is not None and stated.causes:
            return dict(stated.causes)
        kinds = catalogue.symptoms[symptom].causes
        return {kind: 0.9 / len(kinds) for kind in kinds}


def faults(priors: RepairBeliefs, document: Document, catalogue: Catalogue) -> Iterator[Fault]:
    """Yield what does not fit the catalogue, and chances of causes that exceed 1."""
    tables = (
        ("repair", catalogue.repairs, "repair"),
        ("symptom", catalogue.symptoms, "symptom"),
        ("check", catalogue.checks, "check"),
    )
    for table, known, what in tables:
        yield from slug_faults(document, table, entry_slugs(priors, table), known, what)
    for index, symptom in enumerate(priors.symptom):
        line = document.line(("symptom", index, "causes"))
        words = f"symptom {index + 1}, causes"
        entry = catalogue.symptoms.get(symptom.slug)
        causes = entry.causes if entry else tuple(catalogue.kinds)
        for kind in symptom.causes:
            if kind not in causes:
                wrong = f"{kind!r} is not a cause of {symptom.slug}" + nearest(kind, causes)
                yield Fault(document.name, line, words, wrong, ", ".join(causes))
        total = sum(symptom.causes.values())
        if total > 1 + 1e-9:
            yield Fault(document.name, line, words, f"the chances sum to {total:.3g}", "at most 1 in all")
