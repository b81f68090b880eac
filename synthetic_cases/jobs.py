"""Jobs before their damage: date, tier, cause, route, price and job effect."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from synthetic_cases.truth import Truth

MEDIAN_DAYS_ON_BENCH, DAYS_SD, MOST_DAYS = 4.0, 0.7, 25.0


@dataclass(frozen=True)
class Jobs:
    """Jobs in order of intake; every array has shape (job,).

    date, closed : datetime64[D]. tier, cause : index into the truth's order.
    walk_in : bool. working_price : money. job_effect : on the logit,
    shared by all repairs of the unit.
    """

    date: np.ndarray
    closed: np.ndarray
    tier: np.ndarray
    cause: np.ndarray
    walk_in: np.ndarray
    working_price: np.ndarray
    job_effect: np.ndarray

    def __len__(self) -> int:
        """Count the jobs."""
        return len(self.date)


def pick(shares: np.ndarray, luck: np.ndarray) -> np.ndarray:
    """Index drawn from each row of shares (need not sum to 1) by a uniform number.

    Parameters
    ----------
    shares : ndarray, shape (choice,) or (row, choice).
    luck : ndarray, shape (row,), uniform on 0 to 1.
    """
    edges = np.cumsum(np.atleast_2d(shares), axis=1)  # (row or 1, choice)
    chosen = (luck[:, None] * edges[:, -1:] >= edges).sum(axis=1)
    return np.minimum(chosen, edges.shape[1] - 1)


def draw_jobs(truth: Truth, count: int, rng: np.random.Generator) -> Jobs:
    """Draw the jobs; all are closed by the as-of date, so none is half recorded."""
    luck = rng.random((count, 4))
    normal = rng.standard_normal((count, 3))
    days_on_bench = np.minimum(np.ceil(MEDIAN_DAYS_ON_BENCH * np.exp(DAYS_SD * normal[:, 0])), MOST_DAYS)
    span = (truth.as_of - truth.start).days - days_on_bench
    # The square root lets the shop grow a little: a fifth more jobs a month at the end.
    day = np.floor(span * (np.sqrt(1 + 0.44 * luck[:, 0]) - 1) / 0.2)
    order = np.argsort(day, kind="stable")
    date = np.datetime64(truth.start, "D") + day.astype(int)
    tiers, causes = list(truth.tiers.values()), list(truth.causes.values())
    cause = pick(np.array([c.share for c in causes]), luck[:, 2])
    taken = np.array([c.tiers for c in causes]) * [t.share for t in tiers]  # (cause, tier)
    tier = pick(taken[cause], luck[:, 1])
    price = np.array([t.working_price for t in tiers])[tier] * np.exp(truth.sales.price_sd * normal[:, 1])
    return Jobs(
        date=date[order],
        closed=(date + days_on_bench.astype(int))[order],
        tier=tier[order],
        cause=cause[order],
        walk_in=(luck[:, 3] < truth.bench.walk_in)[order],
        working_price=np.round(price)[order],
        job_effect=truth.job_effect_sd * normal[order, 2],
    )
