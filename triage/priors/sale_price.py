"""What is believed of sale prices before the shop's record speaks."""

from __future__ import annotations

from dataclasses import dataclass

from triage.priors.beliefs import BoundedScale, NormalBelief, PositiveBelief, Scale


@dataclass(frozen=True)
class SalePricePriors:
    """Prior file of the sale-price model; all on the scale of log(sold / working price).

    level : of a unit sold with everything fixed.
    tier_sd : spread between value tiers, fixed because a shop has few of them.
    tier_drop_sd : how far tiers differ, in proportion, in what a grade takes off.
    first_drop, second_drop : what the first optional finding left open takes
        off, and what the second and later ones take off more; above zero.
    spread : of single sales.
    """

    level: NormalBelief = NormalBelief(0.0, 0.1)
    tier_sd: Scale = 0.1
    tier_drop_sd: Scale = 0.2
    first_drop: PositiveBelief = PositiveBelief(0.15, 0.5)
    second_drop: PositiveBelief = PositiveBelief(0.15, 0.6)
    spread: BoundedScale = BoundedScale(0.02, 0.8, 0.15, 0.1)
    note: str = ""
