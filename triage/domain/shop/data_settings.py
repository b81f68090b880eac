"""What a shop sets, and believes, of data jobs; its own record then outweighs the beliefs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from pydantic import Field

from triage.domain.money import Money

Share = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False, strict=True)]
Jobs = Annotated[float, Field(gt=0, le=10_000, allow_inf_nan=False, strict=True)]
Minutes = Annotated[float, Field(ge=0, le=10_000, allow_inf_nan=False, strict=True)]


@dataclass(frozen=True)
class DataJobs:
    """How a shop quotes data jobs. Every figure here is invented, no source: a shop sets its own.

    trying_fee : money, asked whether or not data are saved; a part of the price where they are.
    part_price_share : share of the price that is due where only part of the data is saved.
    copy_days : the shop's own copy is erased by then at the latest.
    donor_minutes : bench minutes of fitting a donor display to enter the code.
    all_share, part_share : of jobs whose data could be read, how many gave all and part of it;
        the rest gave none. belief_jobs : how many jobs that is worth.
    chips_share, touch_share, code_share : how often each holds where nobody knows beforehand;
        each worth `belief_jobs` too.
    """

    trying_fee: Money = 40.0
    part_price_share: Share = 0.5
    copy_days: Annotated[int, Field(ge=1, le=365)] = 14
    donor_minutes: Minutes = 20.0
    all_share: Share = 0.7
    part_share: Share = 0.2
    chips_share: Share = 0.95
    touch_share: Share = 0.7
    code_share: Share = 0.8
    belief_jobs: Jobs = 10.0

    def __post_init__(self) -> None:
        """Raise ValueError where more than all jobs would give data."""
        if self.all_share + self.part_share > 1.0 + 1e-9:
            raise ValueError("all_share plus part_share at most 1")
