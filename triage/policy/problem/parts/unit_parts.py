"""The parts that a wreck yields, and what its damage does to each, as the plan reads them.

Given damage and acts, parts are good or not independently of one another, of the scenarios and of what
repairs come to, except through the damage that they share. Ruins of one part by one mechanism count by
the largest; those by different mechanisms multiply.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import ACCESS_LEVELS
from triage.domain.units.unit import Unit
from triage.policy.problem.books import Books

# The part of a `Harm` that keeps all others from being tested: the device does not start.
TESTING = "testing"
# Severity of damage that nobody has graded: hidden, or behind a symptom.
UNGRADED = 2


@dataclass(frozen=True)
class UnitPart:
    """One part that a unit of the shop's yields when it is stripped.

    price : what it fetches good and tested on the day it is sold, expected, money.
    spread : standard deviation of that price over its mean.
    share : of the purchase price, by the price book: what tax under the margin scheme sets against it.
    minutes, test_minutes : bench minutes to take it out and list it; to test it as well.
    access : level it needs. untested : share of `price` that it fetches untested, if it is good.
    donor : whether it can be tested although the unit does not start.
    """

    key: str
    price: float
    share: float
    minutes: float
    test_minutes: float = 0.0
    access: int = 1
    untested: float = 0.5
    spread: float = 0.0
    donor: bool = False


@dataclass(frozen=True)
class Harm:
    """What one damage does to one part.

    chance : that the part is worth nothing. left : share of its price that it fetches otherwise;
        1 for damage that is not seen at intake.
    stays : whether a repair of the damage leaves the part as it is.
    """

    part: str
    chance: float
    mechanism: str
    left: float = 1.0
    stays: bool = False


def unit_parts(unit: Unit, bench: Books) -> tuple[UnitPart, ...]:
    """Parts by the price book; none where they are valued together."""
    book = bench.prices.yields(unit.tier, unit.model) if unit.parts_value is None else ()
    total = sum(entry.price for entry in book)
    kept = 1.0 - bench.settings.value_loss_per_month
    return tuple(
        UnitPart(
            entry.part,
            entry.price * kept ** (entry.weeks * 7.0 / 30.0),
            entry.price / total if total else 0.0,
            entry.minutes,
            entry.test_minutes,
            ACCESS_LEVELS.index(entry.access),
            entry.untested,
            entry.spread,
            entry.donor,
        )
        for entry in book
    )


def harms_of(
    catalogue: Catalogue, kind: str, severity: int = UNGRADED, seen: bool = True
) -> tuple[Harm, ...]:
    """What damage of a kind does to parts; what is not seen lowers a part by the chance of ruin."""
    found = []
    for ruin in catalogue.ruins_of(kind):
        chance, left = ruin.chance[severity - 1], ruin.left[severity - 1]
        if not seen:
            chance, left = 1.0 - (1.0 - chance) * left, 1.0
        if chance > 0 or left < 1:
            found.append(Harm(ruin.part, chance, ruin.mechanism or kind, left, ruin.stays))
    return tuple(found)


def worst_harms(harms: Iterable[Harm], mechanism: str) -> tuple[Harm, ...]:
    """The most that any of some damages does to each part: of a cause that is not among them."""
    worst: dict[str, float] = {}
    for harm in harms:
        worst[harm.part] = max(worst.get(harm.part, 0.0), harm.chance)
    return tuple(Harm(part, chance, mechanism) for part, chance in worst.items())


def standing_harms(unit: Unit, catalogue: Catalogue) -> tuple[Harm, ...]:
    """What damage does that no work closes: a bent board, an earlier repair."""
    found: list[Harm] = []
    for finding in unit.findings:
        if catalogue.kinds[finding.kind].role != "repair":
            for harm in harms_of(catalogue, finding.kind, finding.severity, finding.seen):
                chance = harm.chance if finding.seen else harm.chance * finding.chance
                found.append(Harm(harm.part, chance, harm.mechanism, harm.left, True))
    return tuple(found)
