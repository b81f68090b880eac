"""Parts cost of one attempt over the price book's figure, on the log scale, by family.

A part dead on arrival is not in here: the price book has its own chance of that.
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
from triage.outcome_models.effects import bounded, normal, zero_sum_effect
from triage.outcome_models.log_ratios import LogRatios, observe
from triage.priors.prior_set import PriorSet


@dataclass(frozen=True)
class PartsCostDesign:
    """Log ratios by family.

    coords : `family`.
    typical : ndarray, shape (family,), log ratio believed.
    ratios : LogRatios of the families that bought parts; `group` is (family,).
    """

    coords: dict[str, tuple[str, ...]]
    typical: np.ndarray
    ratios: LogRatios


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
    group = np.array([families.index(slug) for slug in table["family"]], dtype=np.intp).reshape(-1, 1)
    return PartsCostDesign(
        coords={"family": families},
        typical=np.array([priors.parts_cost.typical(slug) for slug in families]),
        ratios=LogRatios.of(group, table["ratio"].to_numpy(dtype=float)),
    )


def build(design: PartsCostDesign, priors: PriorSet) -> Any:
    """Return the PyMC model of a design."""
    import pymc as pm

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
        log_ratio = pm.Deterministic("log_ratio", design.typical + level + effect, dims="family")
        spread = bounded("spread", believed.spread)
        observe(design.ratios, log_ratio[design.ratios.group[:, 0]], spread)
    return model


MODEL = OutcomeModel(
    name="parts_cost",
    purpose="what parts cost over the price book's figure",
    needs="parts_cost and book_cost of at least one attempt",
    design=design,
    prior_design=prior_design,
    build=build,
    stored=("log_ratio", "spread"),
)
