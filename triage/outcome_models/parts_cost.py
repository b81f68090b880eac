"""What the parts of one attempt cost over the price book's figure, on the log scale, by family.

An attempt's parts are bought once, or now and then again at about the same
price: the first was dead on arrival and nobody took it back, or it broke in
work. So the log ratio is a mixture of two normals of one spread, log 2 apart.
Families differ in the spread too; each has its own, held between the bounds.

The plan's chance of a part dead on arrival, of the price book, costs it the
bench time of doing the work again, and no second part: what is paid for that
one is in here and nowhere else.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from triage.design_matrix import attempts
from triage.domain.catalogue import Catalogue
from triage.domain.history import History
from triage.outcome_models.attempt_totals import total_over_rows
from triage.outcome_models.base import OutcomeModel
from triage.outcome_models.data_inputs import of_levels, of_rows
from triage.outcome_models.effects import bounded, log_normal_density, normal, zero_sum_effect
from triage.priors.prior_set import PriorSet

# What buying a part again adds to the log ratio.
TWICE = float(np.log(2.0))


@dataclass(frozen=True)
class PartsCostDesign:
    """Log ratios of attempts that bought parts.

    coords : `family`.
    typical : ndarray, shape (family,), log ratio believed.
    family : ndarray of int, shape (attempt,); ratio : shape (attempt,), log paid over book.
    """

    coords: dict[str, tuple[str, ...]]
    typical: np.ndarray
    family: np.ndarray
    ratio: np.ndarray


def prior_design(catalogue: Catalogue, priors: PriorSet) -> PartsCostDesign:
    """Return the design without purchases."""
    return _design(pd.DataFrame({"family": [], "ratio": []}), catalogue, priors)


def design(history: History, catalogue: Catalogue, priors: PriorSet) -> PartsCostDesign | None:
    """Gather attempts that have both a parts cost and a book cost, or None when none has."""
    table = purchases(history, catalogue)
    return _design(table, catalogue, priors) if len(table) else None


def purchases(history: History, catalogue: Catalogue) -> pd.DataFrame:
    """Return `family` and `ratio` (log paid over book) of every attempt that has both costs."""
    if not history.has("parts_cost", "book_cost"):
        return pd.DataFrame({"family": [], "ratio": []})
    table = attempts(history, catalogue)
    paid = total_over_rows(table, history.rows["parts_cost"])
    listed = total_over_rows(table, history.rows["book_cost"])
    bought = (paid > 0) & (listed > 0)
    family = [catalogue.kinds[kind].family for kind in table["kind"][bought]]
    return pd.DataFrame({"family": family, "ratio": np.log(paid[bought] / listed[bought])})


def _design(table: pd.DataFrame, catalogue: Catalogue, priors: PriorSet) -> PartsCostDesign:
    families = tuple(dict.fromkeys(kind.family for kind in catalogue.kind))
    return PartsCostDesign(
        coords={"family": families},
        typical=np.array([priors.parts_cost.typical(slug) for slug in families]),
        family=np.array([families.index(slug) for slug in table["family"]], dtype=np.intp),
        ratio=table["ratio"].to_numpy(dtype=float),
    )


def build(design: PartsCostDesign, priors: PriorSet) -> Any:
    """Return the PyMC model of a design."""
    import pymc as pm
    import pytensor.tensor as pt

    believed = priors.parts_cost
    with pm.Model(coords=design.coords) as model:
        level = normal("level", believed.level)
        families = len(design.coords["family"])
        effect = zero_sum_effect(
            "family_effect",
            "family",
            families,
            believed.family_scale,
            believed.family_scale_fixed,
            informed=True,
        )
        log_ratio = pm.Deterministic(
            "log_ratio", of_levels("typical", design.typical) + level + effect, dims="family"
        )
        spread = bounded("spread", believed.spread, dims="family")
        again = pm.Beta("bought_again", believed.bought_again.alpha, believed.bought_again.beta)
        if len(design.ratio):
            family, ratio = of_rows("family", design.family), of_rows("ratio", design.ratio)
            once, sd = log_ratio[family], spread[family]  # (attempt,)
            parts = (
                pt.log1p(-again) + log_normal_density(ratio, once, sd),
                pt.log(again) + log_normal_density(ratio, once + TWICE, sd),
            )
            pm.Potential("log_ratios", pt.sum(pt.logaddexp(*parts)))
    return model


MODEL = OutcomeModel(
    name="parts_cost",
    purpose="what parts cost over the price book's figure",
    needs="parts_cost and book_cost of at least one attempt",
    design=design,
    prior_design=prior_design,
    build=build,
    stored=("log_ratio", "spread", "bought_again"),
    form=2,  # 1 had one spread for all families, and no parts bought again
)
