"""After the bench: sale price, date of sale and comeback."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from synthetic_cases.bench_work import JobRecord
from synthetic_cases.jobs import Jobs, pick
from synthetic_cases.stripping import Unseen, strip
from synthetic_cases.truth import Truth
from triage.domain.catalogue import Catalogue

PIECES = np.array([0.0, 30.0, 90.0])
LAST_PIECE_DAYS = 3650.0
DAYS_TO_COLLECT = 4
OWN_FAULTS = ("new-damage", "no-fault-found")
LEAST_BELIEF = 0.1
LOST_FUNCTION_DISCOUNT = 0.9


@dataclass(frozen=True)
class Sales:
    """Per job, shape (job,): money, days and returns.

    paid, sold : money, NaN where there is none. sold_date, comeback_date :
    datetime64[D], NaT where there is none. warranty_days : days, 0 where nothing was
    promised, NaN for a unit not sold yet. comeback_kind : empty where the unit did not return.
    ending : of a stopped unit that was bought and has left: "stripped", "sold" as it lies, "disposed";
    else empty. strip_minutes, selling_fees, parts_margin : of one that was stripped, else NaN.
    """

    paid: np.ndarray
    sold: np.ndarray
    sold_date: np.ndarray
    comeback_date: np.ndarray
    comeback_kind: np.ndarray
    warranty_days: np.ndarray
    ending: np.ndarray
    strip_minutes: np.ndarray
    selling_fees: np.ndarray
    parts_margin: np.ndarray


def sell(
    truth: Truth,
    catalogue: Catalogue,
    jobs: Jobs,
    records: list[JobRecord],
    unseen: Sequence[Unseen],
    rng: np.random.Generator,
    parts_rng: np.random.Generator,
) -> Sales:
    """Sell or return every unit, and end the record on the as-of date.

    Parameters
    ----------
    unseen : of each job, hidden faults that are there, found or not.
    parts_rng : for what becomes of stopped units; `rng` has all other luck.
    """
    rules, count = truth.sales, len(jobs)
    # The first number of each unit is drawn and not used: all others stay what they were without it.
    luck, normal = rng.random((count, 6)), rng.standard_normal((count, 3))
    finished = np.array([record.finished for record in records])
    grade = np.minimum([record.lost for record in records], 2)
    families, believed = _fixed_families(truth, catalogue, records), _believed(truth, catalogue, records)
    mended = finished & families.any(axis=1)

    ratio = np.array([tier.sale_ratio for tier in truth.tiers.values()])[jobs.tier, grade]
    bid = rules.paid_share * believed * np.exp(rules.paid_sd * normal[:, 2])
    paid = np.where(jobs.walk_in, 0.0, np.maximum(np.round(bid * jobs.working_price), 1.0))
    stopped = strip(truth, catalogue, jobs, records, unseen, paid, parts_rng)
    whole = np.round(ratio * np.exp(rules.sale_sd * normal[:, 0]) * jobs.working_price)
    quote = np.round(rules.quote_start + np.array([record.charge for record in records]))
    quote *= np.where(grade > 0, LOST_FUNCTION_DISCOUNT, 1.0)
    sold = np.where(jobs.walk_in, np.where(mended, quote, 0.0), np.where(finished, whole, stopped.sold))

    days = rules.days_to_sell * np.exp(rules.days_to_sell_sd * normal[:, 1])
    days *= np.where(finished, rules.grade_delay**grade, rules.parts_delay)
    days = np.where(jobs.walk_in, np.where(mended, DAYS_TO_COLLECT * luck[:, 1], 0), np.ceil(days))
    sold_date = jobs.closed + days.astype(int)
    is_sold = sold_date <= np.datetime64(truth.as_of, "D")

    covered = is_sold & mended
    promised = np.array([family.warranty_days for family in truth.families.values()])
    warranty = np.where(families, promised, np.inf).min(axis=1)
    after, kind = _first_return(truth, families, luck[:, 2:])
    known_days = (np.datetime64(truth.as_of, "D") - sold_date).astype(int)
    back = covered & (after <= warranty) & (after <= known_days)
    never = np.datetime64("NaT", "D")
    # A unit that left without a warranty says 0: a blank is read as the usual one.
    none_given = np.where(is_sold, 0.0, np.nan)
    ended = ~jobs.walk_in & ~finished & is_sold
    return Sales(
        paid=paid,
        sold=np.where(is_sold, sold, np.nan),
        sold_date=np.where(is_sold, sold_date, never),
        comeback_date=np.where(back, sold_date + np.where(back, after, 0).astype(int), never),
        comeback_kind=np.where(back, kind, ""),
        warranty_days=np.where(covered, warranty, none_given),
        ending=np.where(ended, stopped.ending, ""),
        strip_minutes=np.where(ended, stopped.minutes, np.nan),
        selling_fees=np.where(ended, stopped.fees, np.nan),
        parts_margin=np.where(ended, stopped.margin, np.nan),
    )


def _fixed_families(truth: Truth, catalogue: Catalogue, records: list[JobRecord]) -> np.ndarray:
    """Families in which a job fixed something, shape (job, family)."""
    place = {slug: index for index, slug in enumerate(truth.families)}
    families = np.zeros((len(records), len(place)), dtype=bool)
    for row, record in enumerate(records):
        for line in record.lines:
            if line.outcome == "fixed":
                families[row, place[catalogue.kinds[line.kind].family]] = True
    return families


def _believed(truth: Truth, catalogue: Catalogue, records: list[JobRecord]) -> np.ndarray:
    """Product of the assumed chances of all visible, needed repairs, as for a bid; shape (job,)."""
    believed = np.ones(len(records))
    for row, record in enumerate(records):
        seen = {line.kind for line in record.lines if line.known_at == "intake"}
        for kind in sorted(seen & truth.kinds.keys()):
            believed[row] *= truth.kinds[kind].belief if catalogue.kinds[kind].needed else 1.0
    return np.maximum(believed, LEAST_BELIEF)


def _first_return(truth: Truth, families: np.ndarray, luck: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Day of the first return after the sale, counted from 1, and its kind; shape (job,).

    The hazards of the repaired families add up; returns that are no fault of
    the repair compete with them at a constant rate.
    """
    rules = truth.sales
    hazard = families @ np.array([family.comeback for family in truth.families.values()])  # (job, piece)
    days = _time_to_event(hazard, luck[:, 0])
    other = -np.log1p(-luck[:, 1]) * 30 / (rules.new_damage + rules.no_fault_found)
    names = np.array([*rules.comeback_kinds, *OWN_FAULTS])
    of_repair = pick(np.array(list(rules.comeback_kinds.values())), luck[:, 2])
    shares = np.array([rules.new_damage, rules.no_fault_found])
    of_other = len(rules.comeback_kinds) + pick(shares, luck[:, 3])
    kind = names[np.where(days <= other, of_repair, of_other)]
    return np.ceil(np.minimum(days, other)), kind


def _time_to_event(hazard: np.ndarray, luck: np.ndarray) -> np.ndarray:
    """Days to an event under a piecewise constant hazard per 30 days, shape (job,).

    Inverts the cumulative hazard: day 30 belongs to the first piece, day 90 to
    the second.
    """
    target = -np.log1p(-luck)
    widths = np.diff([*PIECES, LAST_PIECE_DAYS])
    days = np.full(len(luck), np.inf)
    used = np.zeros(len(luck))
    for piece, (start, width) in enumerate(zip(PIECES, widths, strict=True)):
        gain = hazard[:, piece] * width / 30
        here = np.isinf(days) & (target <= used + gain) & (gain > 0)
        rate = np.where(here, hazard[:, piece], 1.0) / 30
        days = np.where(here, start + (target - used) / rate, days)
        used = used + gain
    return np.maximum(days, 1e-9)
