"""How often each check is right: what was assumed, what the shop's own results say, side by side."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from triage.arrays import Floats
from triage.domain.catalogue import Catalogue
from triage.domain.shop.check_record import CheckRecord
from triage.elicitation.beside_record import Estimate
from triage.posterior.interval import interval
from triage.priors.check_accuracy import accuracy_draws
from triage.priors.repair_beliefs import RepairBeliefs

_DRAWS = 4000


@dataclass(frozen=True)
class CheckStanding:
    """One check. Chances are (that it finds a fault that is there, that it clears where there is none).

    prior, posterior : before and after the shop's own results. record : those results.
    """

    check: str
    name: str
    prior: tuple[Estimate, Estimate]
    posterior: tuple[Estimate, Estimate]
    record: CheckRecord


def check_standing(
    beliefs: RepairBeliefs, records: Iterable[tuple[str, CheckRecord]], catalogue: Catalogue
) -> tuple[CheckStanding, ...]:
    """Every check of the catalogue, assumption beside what its results say."""
    told, none = dict(records), CheckRecord()
    found = []
    for slug, check in catalogue.checks.items():
        belief = beliefs.check_belief(slug)
        before, after = (
            accuracy_draws(
                counted, belief.sensitivity, belief.specificity, belief.jobs, _DRAWS, np.random.default_rng(1)
            )
            for counted in (none, told.get(slug, none))
        )
        found.append(CheckStanding(slug, check.name, _both(before), _both(after), told.get(slug, none)))
    return tuple(found)


def _both(draws: tuple[Floats, Floats]) -> tuple[Estimate, Estimate]:
    one, other = (Estimate(float(part.mean()), *map(float, interval(part))) for part in draws)
    return one, other
