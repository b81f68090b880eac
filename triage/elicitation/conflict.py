"""Where the shop's assumptions and its record disagree, kind by kind.

For each kind its own assumption, and then its own attempts, are made a little
stronger and weaker, and the chance of a fresh job at severity 2 is watched.
A chance that answers to both is flagged by the published rule; where both
merely narrow it there is no quarrel, so the two are said to disagree only
when they also pull its mean apart.

References
----------
Kallioinen, Paananen, Buerkner and Vehtari 2023, Statistics and Computing 34:57:
moved by both, prior and data are in conflict; by the prior alone, the prior is
strong or the data say little.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import xarray as xr

from triage.design_matrix import AttemptDesign
from triage.domain.catalogue import Catalogue
from triage.elicitation.attempt_likelihood import kind_log_likelihood
from triage.elicitation.power_scaling import (
    MOST_PARETO_K,
    THRESHOLD_SHIFT,
    Sensitivity,
    power_scaling_sensitivity,
)
from triage.prediction.levels import stored
from triage.prediction.success import fresh_chances, stored_levels
from triage.priors.kind_beliefs import kind_beliefs, shared_variance
from triage.priors.success import SuccessPriors


class Decides(StrEnum):
    """What decides a kind's chance."""

    DISAGREE = "disagree"
    BOTH = "both"
    BELIEF = "belief"
    RECORD = "record"
    NEITHER = "neither"


@dataclass(frozen=True)
class KindConflict:
    """How one kind's chance answers to its assumption and to its record.

    `shift` of each is what counting it double would do to the chance.
    """

    kind: str
    belief: Sensitivity
    record: Sensitivity

    @property
    def decides(self) -> Decides:
        """Which case it is."""
        if self.flagged:
            return Decides.DISAGREE if self.apart else Decides.BOTH
        if self.belief.sensitive:
            return Decides.BELIEF
        return Decides.RECORD if self.record.sensitive else Decides.NEITHER

    @property
    def flagged(self) -> bool:
        """Whether the chance answers to both: a possible conflict by the published rule."""
        return self.belief.sensitive and self.record.sensitive

    @property
    def apart(self) -> bool:
        """Whether each would move the mean, by itself as much as the rule asks, and opposite ways."""
        one, other = self.belief.shift_sd, self.record.shift_sd
        return one * other < 0 and min(abs(one), abs(other)) >= THRESHOLD_SHIFT

    @property
    def reliable(self) -> bool:
        """Whether the reweighted draws can be relied on (Pareto k)."""
        return max(self.belief.pareto_k, self.record.pareto_k) <= MOST_PARETO_K


def kind_conflicts(
    draws: xr.Dataset,
    design: AttemptDesign,
    catalogue: Catalogue,
    priors: SuccessPriors,
    most_draws: int = 1000,
) -> tuple[KindConflict, ...]:
    """Sensitivity of every repairable kind's chance to its own assumption and its own attempts.

    Parameters
    ----------
    draws : stored success draws of the fit to this record under these priors.
    design : the record, encoded.
    most_draws : how many draws to use, evenly spaced.
    """
    count = draws.sizes["draw"]
    chosen = np.linspace(0, count - 1, min(count, most_draws)).round().astype(int)
    draws = draws.isel(draw=chosen)
    believed = own_belief_log_density(draws, catalogue, priors)  # (draw, kind)
    recorded = kind_log_likelihood(draws, design)
    chances = fresh_chances(draws, 2)
    return tuple(
        KindConflict(
            str(kind),
            power_scaling_sensitivity(chances[:, place], believed[:, place]),
            power_scaling_sensitivity(chances[:, place], recorded[:, place]),
        )
        for place, kind in enumerate(draws["kind"].values)
        if catalogue.kinds[str(kind)].role == "repair"
    )


def worst_first(found: Iterable[KindConflict]) -> tuple[KindConflict, ...]:
    """Those where assumption and record disagree before all others, the hardest pulled first."""
    return tuple(
        sorted(found, key=lambda item: (item.decides is not Decides.DISAGREE, -abs(item.belief.shift_sd)))
    )


def own_belief_log_density(draws: xr.Dataset, catalogue: Catalogue, priors: SuccessPriors) -> np.ndarray:
    """Log density of each kind's own deviation under its assumption, shape (draw, kind), no constants."""
    believed = kind_beliefs(catalogue, priors)
    together, families, family_sd = stored(draws, "shop")[:, None], 1, np.zeros((1, 1))
    if "family_effect" in draws:
        effect = stored(draws, "family_effect", "draw", "family")
        together = together + effect[:, stored_levels(draws, catalogue).family]
        families, family_sd = effect.shape[1], stored(draws, "family_sd")[:, None]
    variance = shared_variance(priors.scales.shop, family_sd, families)
    share, own_sd = believed.parts(variance, stored(draws, "kind_spread")[:, None])  # (draw, kind)
    off = stored(draws, "kind_logit", "draw", "kind") - believed.mean - share * together
    if "drift_middle" in draws:  # assumptions are about the middle of the record
        off = off + stored(draws, "drift_middle")[:, None]
    return -((off / own_sd) ** 2) / 2 - np.log(own_sd)
