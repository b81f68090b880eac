"""Sale price over working price, on the log scale, by tier and grade.

The grade of a sold device is how much optional damage was left open, at most
two. Only devices the shop owned, with everything needed fixed, tell of it: the
others were sold as something else.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from triage.domain.catalogue import Catalogue
from triage.domain.history import WRITTEN_OFF, History
from triage.domain.tries import fixed_in_the_end
from triage.outcome_models.base import OutcomeModel
from triage.outcome_models.data_inputs import of_rows
from triage.outcome_models.effects import bounded, fixed_zero_sum, normal, positive
from triage.outcome_models.log_ratios import LogRatios, observe
from triage.priors.prior_set import PriorSet

WORST_GRADE = 2


@dataclass(frozen=True)
class SalePriceDesign:
    """Log ratios by tier and grade.

    coords : `tier`, those of the record; empty when it names fewer than two.
    ratios : LogRatios; `group` is (tier or -1, grade).
    """

    coords: dict[str, tuple[str, ...]]
    ratios: LogRatios


def prior_design(catalogue: Catalogue, priors: PriorSet) -> SalePriceDesign:
    """Return the design without sales."""
    return _design(pd.DataFrame({"tier": [], "grade": [], "ratio": []}))


def design(history: History, catalogue: Catalogue, priors: PriorSet) -> SalePriceDesign | None:
    """Gather sold devices with their grade, or None when no sale has a working price beside it."""
    if not history.has("sold", "working_price"):
        return None
    table = sales(history, catalogue)
    return _design(table) if len(table) else None


def sales(history: History, catalogue: Catalogue) -> pd.DataFrame:
    """Return `tier`, `grade` and `ratio` (log sold over working price) of every sale that counts."""
    rows = history.rows
    # A damage with several tries has a row for each; the last one says how it was sold.
    finding = [name for name in ("job", "finding", "zone") if name in rows]
    rows = rows.assign(open=~fixed_in_the_end(rows)).drop_duplicates(finding)
    repairable = rows["finding"].map(lambda slug: catalogue.kinds[slug].role == "repair")
    needed = rows["finding"].map(lambda slug: catalogue.kinds[slug].needed)
    needed_open = (rows["open"] & repairable & needed).groupby(rows["job"]).sum()
    optional_open = (rows["open"] & repairable & ~needed).groupby(rows["job"]).sum()
    jobs = history.jobs
    counts = (jobs["sold"] > 0) & (jobs["working_price"] > 0) & (needed_open.reindex(jobs.index) == 0)
    if "route" in jobs:
        counts &= jobs["route"] != "walk-in"
    if "ending" in jobs:
        counts &= ~jobs["ending"].isin(WRITTEN_OFF)
    jobs = jobs[counts]
    return pd.DataFrame(
        {
            "tier": jobs["tier"].fillna("") if "tier" in jobs else "",
            "grade": optional_open.reindex(jobs.index).clip(upper=WORST_GRADE),
            "ratio": np.log(jobs["sold"].astype(float) / jobs["working_price"].astype(float)),
        },
        index=jobs.index,
    )


def _design(table: pd.DataFrame) -> SalePriceDesign:
    tiers = tuple(sorted(set(table["tier"]) - {""}))
    tiers = tiers if len(tiers) > 1 else ()
    place = {slug: index for index, slug in enumerate(tiers)}
    labels = np.array(
        [(place.get(t, -1), g) for t, g in zip(table["tier"], table["grade"], strict=True)], dtype=np.intp
    ).reshape(-1, 2)
    return SalePriceDesign({"tier": tiers}, LogRatios.of(labels, table["ratio"].to_numpy(dtype=float)))


def build(design: SalePriceDesign, priors: PriorSet) -> Any:
    """Return the PyMC model of a design; the price falls with the grade."""
    import pymc as pm
    import pytensor.tensor as pt

    believed = priors.sale_price
    with pm.Model(coords=design.coords) as model:
        level = normal("level", believed.level)
        first = positive("first_drop", believed.first_drop)
        second = positive("second_drop", believed.second_drop)
        spread = bounded("spread", believed.spread)
        tiers = len(design.coords["tier"])
        by_tier = fixed_zero_sum("tier_effect", "tier", tiers, believed.tier_sd)
        steeper = fixed_zero_sum("tier_drop", "tier", tiers, believed.tier_drop_sd)
        tier, grade = (of_rows(n, v) for n, v in zip(("tier", "grade"), design.ratios.group.T, strict=True))
        drop = first * (grade >= 1) + second * (grade >= 2)  # (group,)
        # Index -1, no tier of its own, finds the average that is put last.
        by_tier, steeper = (pt.concatenate([effect, np.zeros(1)])[tier] for effect in (by_tier, steeper))
        observe(design.ratios, level + by_tier - drop * pt.exp(steeper), spread)
    return model


MODEL = OutcomeModel(
    name="sale_price",
    purpose="what a device sells for over its resale value",
    needs="sold and working_price of at least one bought device with everything needed fixed",
    design=design,
    prior_design=prior_design,
    build=build,
    stored=("level", "first_drop", "second_drop", "spread", "tier_effect", "tier_drop"),
)
