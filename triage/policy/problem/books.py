"""The shop's books as the policy reads them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from triage.domain.catalogue import Catalogue
from triage.domain.safety.rules import Rules, load_rules
from triage.domain.shop.check_record import CheckRecord
from triage.domain.shop.price_book import PriceBook
from triage.domain.shop.settings import Settings
from triage.priors.repair_beliefs import RepairBeliefs


@dataclass(frozen=True)
class Books:
    """What stands still while units come and go: the shop's books.

    check_records : the shop's own results, by check.
    """

    catalogue: Catalogue
    settings: Settings
    prices: PriceBook
    beliefs: RepairBeliefs
    today: date
    part_prices: dict[str, float] = field(default_factory=dict)
    check_records: Mapping[str, CheckRecord] = field(default_factory=dict)
    rules: Rules = field(default_factory=load_rules)
