"""Made-up records of jobs for the money review."""

from datetime import date

import pandas as pd

from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import DamageKind, Family
from triage.domain.history import History
from triage.domain.shop.settings import Fees, Settings, Tax

KINDS = ("hinge-loose", "screen-dim", "board-wet", "key-stuck")
CATALOGUE = Catalogue(
    family=(Family("outside", "Outside"), Family("inside", "Inside")),
    kind=(
        DamageKind("hinge-loose", "hinge loose", "outside"),
        DamageKind("screen-dim", "screen dim", "outside"),
        DamageKind("board-wet", "board wet", "inside"),
        DamageKind("key-stuck", "key stuck", "inside", needed=False),
    ),
)
SETTINGS = Settings(
    shop="paper",
    currency="EUR",
    bench_rate=30.0,
    fees=Fees(
        inbound_postage=7.0, buyer_fee_share=0.1, selling_share=0.08, payment_share=0.02,
        outbound_postage=6.0, consumables=4.0, disposal=1.5,
    ),
    tax=Tax("second-hand-margin", 0.2),
)  # fmt: skip
FREE = Settings(shop="paper", currency="EUR", bench_rate=0.0)


def row(job, finding, outcome="fixed", **columns):
    day = pd.Timestamp("2026-01-02")
    told = {"job": job, "date": day, "finding": finding, "outcome": outcome, "severity": 2, "closed": day}
    return told | {"route": "bought", "paid": 0.0, "sold": 0.0, "minutes": 0.0, "parts_cost": 0.0} | columns


def history(rows):
    frame = pd.DataFrame(rows)
    for name in ("closed", "comeback_date"):
        if name in frame:
            frame[name] = pd.to_datetime(frame[name])
    return History(frame, date(2026, 12, 31))
