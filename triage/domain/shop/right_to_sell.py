"""What a shop expects of its sources: how often the right to sell a device comes out clear.

Every chance, share and minute below is invented, no source: a shop sets its own. Local law
decides what may be bought, held, returned or handed to the authorities.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from pydantic import Field

from triage.domain.money import Money

_Share = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False, strict=True)]
_Minutes = Annotated[float, Field(ge=0, le=10_000, allow_inf_nan=False, strict=True)]


@dataclass(frozen=True)
class SourceBelief:
    """Devices from one source, as shares of those whose right to sell is open.

    not_listed, not_locked, not_enrolled : each question that comes out clear once it is settled.
    not_listed_later : those that stay clear after they were bought; nobody can settle that.
    price_back : share of the price that the supplier pays back when the right is refused.
    """

    not_listed: _Share
    not_locked: _Share
    not_enrolled: _Share
    not_listed_later: _Share
    price_back: _Share = 0.0


@dataclass(frozen=True)
class RightToSell:
    """Beliefs by source, and what settling takes: bench minutes and fees.

    number_check : the numbers against the block lists. boot_check : start it and check activation.
    sign_off : the seller signs out of it in person. enrolment_check : registers of management and finance.
    hand_over : returning a refused device to the supplier, or to whom local law says.
    """

    owner_in_person: SourceBelief = SourceBelief(0.98, 0.9, 0.95, 0.99, 0.0)
    trade_seller: SourceBelief = SourceBelief(0.98, 0.9, 0.96, 0.99, 0.9)
    auction: SourceBelief = SourceBelief(0.95, 0.7, 0.93, 0.98, 0.0)
    unknown: SourceBelief = SourceBelief(0.9, 0.6, 0.93, 0.97, 0.0)
    number_check: _Minutes = 3.0
    number_fee: Money = 0.0
    boot_check: _Minutes = 6.0
    sign_off: _Minutes = 8.0
    enrolment_check: _Minutes = 5.0
    enrolment_fee: Money = 0.0
    hand_over: _Minutes = 20.0

    def of(self, source: str) -> SourceBelief:
        """Beliefs about a source as `Ownership` names it; one that nobody named is an unknown one."""
        belief: SourceBelief = getattr(self, (source or "unknown").replace("-", "_"))
        return belief
