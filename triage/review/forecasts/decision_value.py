"""The value of a forecaster's decisions: what accepting or declining by it would have earned.

The rule is the same for every forecaster, so that only the chances differ. A
job is declined when its expected margin is below 0:

    expected = c x (mean of past jobs that were finished)
             + (1 - c) x (mean of past jobs that were not) - what was paid for it

`c` is the forecaster's chance, from the findings known at intake alone, that
all repairs a sale needs work. The means are of margins before the purchase
price, of past jobs of the same route and tier (of all, where fewer than
`FEWEST` are known).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from triage.domain.catalogue import Catalogue
from triage.domain.history import History
from triage.review.forecasts.paired_bootstrap import Difference, mean_difference

FEWEST = 10
ESTIMAND = (
    "Only accepted jobs have outcomes. This shows which of them a rule would have declined, and what "
    "that would have saved or cost. It says nothing about devices that you declined."
)
RULE = (
    "A rule declines a job when its expected margin at intake is below 0. That margin is the chance that all "
    "needed repairs work, times what finished past jobs of its route and price class made; plus the chance "
    "that they do not, times what unfinished ones made; less the price paid."
)


@dataclass(frozen=True)
class VetoResult:
    """One rule on the jobs that came; money is in major units.

    taken, vetoed : jobs.
    margin : total margin of the jobs taken.
    vetoed_margin : what the declined jobs made, in total.
    """

    taken: int
    vetoed: int
    margin: float
    vetoed_margin: float


@dataclass(frozen=True)
class DecisionScore:
    """Margins of accepting or declining by each forecaster, and of accepting every job.

    jobs : jobs with a known margin and a past to judge them by.
    left_out : jobs of the blocks without one, such as those not sold yet.
    rules : by forecaster, and `take all`.
    gains : margin of the model's rule less that of another, a job, by the
        other's name, with a 90 % interval by bootstrap of jobs.
    """

    jobs: int
    left_out: int
    rules: dict[str, VetoResult]
    gains: dict[str, Difference]
    estimand: str = ESTIMAND
    rule: str = RULE


def intake_findings(history: History, catalogue: Catalogue) -> pd.DataFrame:
    """Rows of the repairs a sale needs, of findings known at intake; one a finding, whatever was tried."""
    rows = history.rows
    kinds = [catalogue.kinds[slug] for slug in rows["finding"]]
    seen = np.array([kind.needed and kind.role == "repair" for kind in kinds], dtype=bool)
    if "known_at" in rows:
        seen &= rows["known_at"].isin(("", "intake")).to_numpy()
    return rows[seen].drop_duplicates(["job", "finding", *(("zone",) if "zone" in rows else ())])


def expected_margins(
    past: pd.DataFrame, new: pd.DataFrame, tier: pd.Series, finished: np.ndarray
) -> np.ndarray:
    """Expected margin of new jobs at intake, shape (job,); NaN where the past cannot say.

    Parameters
    ----------
    past, new : `realised_margins(...).money`; of `new` only route and price paid are read.
    tier : by job, of past and new ones.
    finished : ndarray, shape (job,), chance that a new job's needed repairs all work.
    """
    before = past.assign(tier=tier, before=past["margin"] + past["paid"])
    asked = new.assign(tier=tier)
    done, not_done = (_means(before[before["finished"] == state], asked) for state in (True, False))
    return finished * done + (1 - finished) * not_done - new["paid"].to_numpy()


def _means(past: pd.DataFrame, asked: pd.DataFrame) -> np.ndarray:
    """Mean margin before purchase of past jobs like each one asked about, shape (job,)."""
    if past.empty:
        return np.full(len(asked), np.nan)
    groups = past.groupby(["walk_in", "tier"])["before"].agg(["mean", "size"])
    means, overall = groups.loc[groups["size"] >= FEWEST, "mean"].to_dict(), past["before"].mean()
    return np.array([means.get(key, overall) for key in zip(asked["walk_in"], asked["tier"], strict=True)])


def decision_score(
    margin: np.ndarray, expected: dict[str, np.ndarray], jobs: int, seed: int
) -> DecisionScore | None:
    """Score the rules on the jobs that came; None when no job can be judged.

    Parameters
    ----------
    margin : ndarray, shape (job,), what each job made.
    expected : by forecaster, `model` among them, its expected margins, shape
        (job,); NaN where it has none.
    jobs : all jobs of the blocks, those without a margin too.
    """
    judged = ~np.isnan(np.column_stack(list(expected.values()))).any(axis=1)
    made = margin[judged]
    if not len(made):
        return None
    takes = {name: values[judged] >= 0 for name, values in expected.items()}
    takes["take all"] = np.ones(len(made), dtype=bool)
    rules = {
        name: VetoResult(
            taken=int(take.sum()),
            vetoed=int((~take).sum()),
            margin=float(made[take].sum()),
            vetoed_margin=float(made[~take].sum()),
        )
        for name, take in takes.items()
    }
    gains = {
        name: mean_difference(made * (takes["model"].astype(float) - take), seed)
        for name, take in takes.items()
        if name != "model"
    }
    return DecisionScore(len(made), jobs - len(made), rules, gains)
