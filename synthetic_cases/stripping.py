"""Stopped units: stripped part by part, sold as they lie, or disposed of.

What becomes of each part is the world's own truth. The bench chooses by what it has found, and by
the chances that are true on average: it does not know which parts are ruined.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from synthetic_cases.bench_work import JobRecord
from synthetic_cases.jobs import Jobs
from synthetic_cases.parts_truth import TESTING
from synthetic_cases.truth import Truth
from triage.domain.catalogue import Catalogue

# Severity by kind of hidden faults that the bench may not have found.
Unseen = Mapping[str, int]


@dataclass(frozen=True)
class PartFates:
    """What is true of the parts of units; arrays (job, part), `starts` (job,).

    good : not ruined. starts : the unit can be tested in. price : money that each part would fetch
    good and tested, its damage counted.
    """

    good: np.ndarray
    starts: np.ndarray
    price: np.ndarray


@dataclass(frozen=True)
class Stripped:
    """How each unit would end if it were not repaired, shape (job,) each.

    ending : "stripped", "sold" (as it lies) or "disposed". sold, fees : money. minutes : of stripping.
    margin : sum over parts sold of what each brought above its share of the price paid, money.
    fees, minutes and margin are NaN where the unit was not stripped.
    """

    ending: np.ndarray
    sold: np.ndarray
    minutes: np.ndarray
    fees: np.ndarray
    margin: np.ndarray


def part_fates(
    truth: Truth,
    catalogue: Catalogue,
    working_price: np.ndarray,
    records: Sequence[JobRecord],
    unseen: Sequence[Unseen],
    rng: np.random.Generator,
) -> PartFates:
    """Draw what is true of the parts of each unit.

    Parameters
    ----------
    unseen : of each job, hidden faults that are there, found or not.
    """
    parts, families = [*truth.parts, TESTING], list(truth.families)
    luck = rng.random((len(records), len(parts), len(families)))
    spread = np.array([part.spread for part in truth.parts.values()])
    normal = rng.standard_normal((len(records), len(spread)))
    harms = [_left_damage(truth, record, there) for record, there in zip(records, unseen, strict=True)]
    chance, left = _harmed(truth, catalogue, harms)
    lives = np.asarray((luck >= chance).all(axis=2))  # (job, part)
    price = _listed(truth, working_price) * np.exp(spread * normal) * left
    return PartFates(lives[:, :-1], lives[:, -1], price)


def strip(
    truth: Truth,
    catalogue: Catalogue,
    jobs: Jobs,
    records: Sequence[JobRecord],
    unseen: Sequence[Unseen],
    paid: np.ndarray,
    rng: np.random.Generator,
) -> Stripped:
    """End every unit as if it were not repaired; the arguments are those of `part_fates`.

    Parameters
    ----------
    paid : ndarray, shape (job,), money, shared among parts by what each was worth when it was stripped.
    """
    rules, parts = truth.stripping, list(truth.parts.values())
    fates = part_fates(truth, catalogue, jobs.working_price, records, unseen, rng)
    normal, luck = rng.standard_normal(len(records)), rng.random(len(records))
    own = np.array([[part.minutes, part.test_minutes] for part in parts]).sum(axis=1)
    deep = np.array([part.behind_board for part in parts])

    chance, left = _harmed(truth, catalogue, [_left_damage(truth, record, {}) for record in records])
    lives = (1.0 - chance).prod(axis=2)  # (job, part)
    tested = lives[:, -1:] + (1.0 - lives[:, -1:]) * rules.untested
    mean = np.exp(np.array([part.spread for part in parts]) ** 2 / 2.0)
    worth = _listed(truth, jobs.working_price) * mean * left * lives[:, :-1] * tested
    gain = worth * (1.0 - rules.fee_share) - rules.post * lives[:, :-1] - rules.minute * own
    taken = gain > 0
    behind = np.where(taken & deep, gain, 0.0).sum(axis=1) > rules.minute * rules.board_out
    taken &= ~deep | behind[:, None]
    opened = np.array([record.opened for record in records])
    minutes = rules.start + rules.open * ~opened + rules.board_out * (taken & deep).any(axis=1) + taken @ own
    strips = np.where(taken, gain + rules.minute * own, 0.0).sum(axis=1) - rules.minute * minutes

    low, high = rules.as_it_lies
    whole = np.round((low + (high - low) * luck) * worth.sum(axis=1))
    sells = whole * (1.0 - rules.fee_share) - rules.whole_post - rules.minute * rules.whole_minutes
    ending = np.where(
        np.maximum(strips, sells) <= 0, "disposed", np.where(strips >= sells, "stripped", "sold")
    )

    sold = taken & fates.good
    fetched = np.where(fates.starts[:, None], 1.0, rules.untested) * fates.price
    price = np.round(np.where(sold, fetched, 0.0), 2)
    share = np.where(taken, worth, 0.0)
    share /= np.maximum(share.sum(axis=1, keepdims=True), 1e-9)
    over = np.maximum(price - share * paid[:, None], 0.0).sum(axis=1)
    fees = price.sum(axis=1) * rules.fee_share + rules.post * sold.sum(axis=1)
    spent = np.maximum(np.round(minutes * np.exp(rules.minutes_sd * normal)), 1.0)
    stripped = ending == "stripped"
    brought = np.where(stripped, price.sum(axis=1), np.where(ending == "sold", whole, 0.0))
    return Stripped(
        ending,
        np.round(brought, 2),
        *(np.where(stripped, each, np.nan) for each in (spent, np.round(fees, 2), np.round(over, 2))),
    )


def _listed(truth: Truth, working_price: np.ndarray) -> np.ndarray:
    """What each part fetches undamaged, median, money, shape (job, part)."""
    return working_price[:, None] * np.array([part.price for part in truth.parts.values()])


def _left_damage(truth: Truth, record: JobRecord, unseen: Unseen) -> list[tuple[str, int, bool]]:
    """Kind, severity and whether it was fixed, of all damage that a unit has or had."""
    ends = {line.kind: (line.severity, line.outcome == "fixed") for line in record.lines}
    found = [(kind, *end) for kind, end in ends.items()]
    return found + [(kind, severity, False) for kind, severity in unseen.items() if kind not in ends]


def _harmed(
    truth: Truth, catalogue: Catalogue, harms: Sequence[Sequence[tuple[str, int, bool]]]
) -> tuple[np.ndarray, np.ndarray]:
    """Chance that a family ruins a part, (job, part and testing, family); price left, (job, part)."""
    parts = {slug: place for place, slug in enumerate([*truth.parts, TESTING])}
    families = {slug: place for place, slug in enumerate(truth.families)}
    chance = np.zeros((len(harms), len(parts), len(families)))
    left = np.ones_like(chance)
    for job, damage in enumerate(harms):
        for kind, severity, fixed in damage:
            for part, ruin in truth.ruins.get(kind, {}).items():
                if fixed and not ruin.stays:
                    continue
                at = job, parts[part], families[catalogue.kinds[kind].family]
                chance[at] = max(chance[at], ruin.chance[severity - 1])
                left[at] = min(left[at], ruin.left[severity - 1])
    return chance, left.prod(axis=2)[:, :-1]
