"""The parts that a wreck yields: what each fetches, how long it takes, when it is sold."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from pydantic import AfterValidator, Field

from triage.domain.catalogue_entries import Access, YieldPart
from triage.domain.money import Money
from triage.domain.shop.settings import Minutes, Share

Weeks = Annotated[float, Field(ge=0, le=520, allow_inf_nan=False, strict=True)]
Spread = Annotated[float, Field(ge=0, le=3, allow_inf_nan=False, strict=True)]


@dataclass(frozen=True)
class PartYield:
    """One part that a device of a tier or model yields, common practice for what is asked, no source.

    price : what it fetches when it is good and tested, tax included, money.
    spread : standard deviation of that price over its mean.
    minutes, test_minutes : bench minutes to take it out and list it; to test it as well.
    weeks : weeks until it is sold.
    access : how far the device must be open to take it out.
    untested : share of `price` that it fetches untested; one that proves bad is taken back.
    donor : whether it can be tested in another device of the shop, so that this one need not start.
    """

    part: YieldPart
    price: Money
    spread: Spread = 0.0
    minutes: Minutes = 10.0
    test_minutes: Minutes = 5.0
    weeks: Weeks = 0.0
    access: Access = "opened"
    untested: Share = 0.5
    donor: bool = False


def _each_once(yields: tuple[PartYield, ...]) -> tuple[PartYield, ...]:
    if len({entry.part for entry in yields}) < len(yields):
        raise ValueError("each part once")
    return yields


Yields = Annotated[tuple[PartYield, ...], AfterValidator(_each_once)]
