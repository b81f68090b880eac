"""What a shop sets once: rates, fees, fixed minutes, the go rule, tax."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from triage.domain.documents import build, read_toml
from triage.domain.money import Money
from triage.domain.shop.data_settings import DataJobs
from triage.domain.shop.right_to_sell import RightToSell
from triage.errors import SettingsError

Share = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False, strict=True)]
Minutes = Annotated[float, Field(ge=0, le=10_000, allow_inf_nan=False, strict=True)]
TaxScheme = Literal["none", "standard", "second-hand-margin"]


def _currency(code: str) -> str:
    if not re.fullmatch("[A-Z]{3}", code):
        raise ValueError('a three-letter currency code, such as "EUR"')
    return code


@dataclass(frozen=True)
class GoRule:
    """Take a unit when all three hold.

    margin : least expected margin, money.
    margin_per_hour : least expected margin per expected bench hour, money.
    losses_in_20 : loses money in at most this many of 20.
    """

    margin: Annotated[float, Field(ge=-1e7, le=1e7, allow_inf_nan=False)] = 25.0
    margin_per_hour: Annotated[float, Field(ge=-1e7, le=1e7, allow_inf_nan=False)] = 15.0
    losses_in_20: Annotated[int, Field(ge=0, le=20)] = 6


@dataclass(frozen=True)
class FixedMinutes:
    """Bench minutes that a unit costs once, whatever is repaired on it.

    make_safe : a bad battery out, insulated, in its fire-safe box, dated.
    careful_look : what opening a device with a suspect battery takes on top, the look included.
    battery_out : a good battery out before rework heat, looked at again, and back.
    liquid_look : what opening a device that is or may be wet takes on top: the battery disconnected, a
        look under the shields, liquid cleaned off and dried, waiting not counted.
    The last three are invented, no source: a shop sets its own.
    """

    make_safe: Minutes = 12.0
    open: Minutes = 12.0
    board_out: Minutes = 15.0
    shields_off: Minutes = 15.0
    trace_cause: Minutes = 25.0
    close: Minutes = 10.0
    seal: Minutes = 8.0
    verify: Minutes = 20.0
    strip: Minutes = 25.0
    reassemble: Minutes = 20.0
    save_data: Minutes = 30.0
    careful_look: Minutes = 8.0
    battery_out: Minutes = 10.0
    liquid_look: Minutes = 10.0


@dataclass(frozen=True)
class Fees:
    """Money that a unit costs once, and shares taken from a sale."""

    inbound_postage: Money = 0.0
    buyer_fee_share: Share = 0.0
    selling_share: Share = 0.0
    payment_share: Share = 0.0
    outbound_postage: Money = 0.0
    consumables: Money = 0.0
    disposal: Money = 0.0

    def __post_init__(self) -> None:
        """Raise ValueError where nothing is left of a sale."""
        if self.selling_share + self.payment_share >= 1.0:
            raise ValueError("selling_share plus payment_share below 1")


@dataclass(frozen=True)
class Tax:
    """How a sale is taxed; `rate` is the tax over the price before tax (0.2 is 20 %)."""

    scheme: TaxScheme = "none"
    rate: Share = 0.0


@dataclass(frozen=True)
class Acceptance:
    """How owners answer a price: half of them say yes at `half_say_yes`, on a logit curve.

    half_say_yes : as a share of the working price.
    steepness : how fast the yes falls, on the logit scale, over the whole working price.
    """

    half_say_yes: Annotated[float, Field(gt=0, le=3, allow_inf_nan=False)]
    steepness: Annotated[float, Field(gt=0, le=1000, allow_inf_nan=False)]


@dataclass(frozen=True)
class Quoting:
    """How a shop quotes an owner.

    diagnostic_fee : money, credited to the repair when it is done.
    valid_days : how long a quote stands.
    answer_days : a question to the owner unanswered this long means: back together and returned.
    acceptance : None when the shop has no idea of it.
    """

    diagnostic_fee: Money = 20.0
    valid_days: Annotated[int, Field(ge=1, le=365)] = 14
    answer_days: Annotated[int, Field(ge=1, le=365)] = 14
    acceptance: Acceptance | None = None


@dataclass(frozen=True)
class Settings:
    """One shop's settings.

    bench_rate : money per bench hour.
    value_loss_per_month, days_to_sell : what a unit loses while it waits for
        parts, and, finished, for a buyer.
    bench_queue_days, cure_days : days before work starts; days that adhesive
        and soak test take at the end.
    hold_days : days that a unit which was bought is held, as local rules on second-hand goods
        say, before it may be sold or stripped; 0 where there are none.
    keep_people_days : days after a job's end that who its people were is kept; 0 until it is asked for.
    warranty_days : exposure over which comebacks are counted.
    comeback_refund_share : share of comebacks that end in a refund rather than rework.
    resale_after_refund_share : share of the sale price a refunded unit then fetches.
    recovered_part_share : share of a fitted part's price recovered when stripping.
    carrier_locked_share : share of the working price a carrier-locked unit fetches.
    price_age_days : a part price older than this is "not confirmed".
    missing_part_share : share of the working price assumed for a part without a price.
    opening_damage_chance, opening_damage_share : chance that opening a unit
        breaks something, and what that costs as a share of the working price.
    right_to_sell : what is expected while the right to sell a device is open.
    owner_damage_liability : money owed on top when the unit is an owner's.
    backup_folder : whole path of a folder for a copy of the shop each day; "" for none.
    """

    shop: str
    currency: Annotated[str, AfterValidator(_currency)]
    note: str = ""
    bench_rate: Money = 40.0
    go_rule: GoRule = field(default_factory=GoRule)
    minutes: FixedMinutes = field(default_factory=FixedMinutes)
    fees: Fees = field(default_factory=Fees)
    tax: Tax = field(default_factory=Tax)
    value_loss_per_month: Share = 0.0
    days_to_sell: Annotated[float, Field(ge=0, le=3650)] = 0.0
    bench_queue_days: Annotated[float, Field(ge=0, le=365)] = 2.0
    cure_days: Annotated[float, Field(ge=0, le=30)] = 1.0
    hold_days: Annotated[int, Field(ge=0, le=365)] = 0
    keep_people_days: Annotated[int, Field(ge=0, le=3650)] = 0
    warranty_days: Annotated[int, Field(ge=0, le=3650)] = 90
    comeback_refund_share: Share = 0.3
    resale_after_refund_share: Share = 0.5
    recovered_part_share: Share = 0.5
    carrier_locked_share: Share = 0.8
    price_age_days: Annotated[int, Field(ge=1, le=3650)] = 120
    missing_part_share: Share = 0.1
    opening_damage_chance: Share = 0.02
    opening_damage_share: Share = 0.15
    owner_damage_liability: Money = 0.0
    quoting: Quoting = field(default_factory=Quoting)
    data: DataJobs = field(default_factory=DataJobs)
    right_to_sell: RightToSell = field(default_factory=RightToSell)
    backup_folder: Annotated[str, Field(max_length=1000)] = ""


def load_settings(path: Path) -> Settings:
    """Read a settings file, or raise `SettingsError` with every fault in it."""
    return build(Settings, read_toml(path, SettingsError), SettingsError)
