"""What is believed of sale prices before the shop's record speaks."""

from __future__ import annotations

from dataclasses import dataclass

from triage.priors.beliefs import BoundedScale, NormalBelief, PositiveBelief, Scale, Words


@dataclass(frozen=True)
class SalePricePriors:
    """Prior file of the sale-price model; all on the scale of log(sold / working price).

    level : of a unit sold with everything fixed.
    tier_sd : spread between value tiers, fixed because a shop has few of them.
    first_drop, second_drop : what the first optional finding left open takes
        off, and what the second and later ones take off more; above zero.
    spread : of single sales.
    """

    note: Words
    level: NormalBelief
    tier_sd: Scale
    first_drop: PositiveBelief
    second_drop: PositiveBelief
    spread: BoundedScale
