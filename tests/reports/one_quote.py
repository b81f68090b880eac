"""A hand-made quote of the invented bench at Saltmarsh Lane, Ostrel, with figures no other text has."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from triage.policy.answer.quote import BenchFigures, FittedPart, Offer, Quote, Stage, WorkLine
from triage.policy.pricing.quote_prices import BestPrice

OFFER = Offer(
    price=157.5,
    ceiling=157.5,
    fee=0.0,
    reduced=(133.88, 110.25),
    work=(
        WorkLine("The screen shows no proper picture.", "Fit another screen."),
        WorkLine("The antenna cable is torn, so the signal is weak.", "Fit a new antenna cable.", seen=False),
        WorkLine(
            "Marks on the outside; they do not affect how it works.",
            "Not part of this quote.",
            included=False,
        ),
    ),
    possible=("Solder joints under a chip have cracked and the chip loses contact.",),
    parts=(FittedPart("screen", "refurbished panel", True), FittedPart("antenna cable", "", False)),
    lost=("camera", "vibration"),
    carried_over=("front camera", "face or depth sensor"),
    stages=(),
    part_days=(2.0, 3.0),
    battery="no concern",
    wet=False,
    data_wanted=False,
    over_worth=False,
    valid_until=date(2026, 12, 9),
    valid_days=15,
    answer_days=21,
    warranty_days=95,
)
# None of these figures may reach an owner, in any way of writing them.
BENCH = BenchFigures(
    least=643.21,
    break_even=632.14,
    below_cost=True,
    expected_margin=-6789.4,
    losses_in_20=17,
    margin_per_hour=71.83,
    minutes=386.0,
    chance_finished=0.34,
    best=BestPrice(698.77, 0.46, 54.76),
    notes=("The price is above the resale value of €864.20. Tell the owner.",),
)
INTERNAL = ("643.21", "632.14", "6,789", "6789", "17 in 20", "71.83", "386", "7 in 20", "698.77", "9 in 20",
            "54.76", "864.20", "margin", "below cost", "bench rate", "loses money", "0.34")  # fmt: skip
STAGES = (
    Stage("counter", 157.5, 157.5, 157.5, False),
    Stage("opened", 140.25, 171.75, 198.4, False),
    Stage("board level", None, None, None, True),
)


def one_quote(offer: dict | None = None, **changes) -> Quote:
    """A quote for a dropped handset; `offer` and `changes` replace fields."""
    quote = Quote(
        kind="fixed",
        shop="The bench at Saltmarsh Lane, Ostrel",
        currency="EUR",
        device="Dropped handset, grey tray",
        model="",
        customer="Ida Westerfeld",
        number="2026-0117",
        issued=date(2026, 11, 25),
        offer=replace(OFFER, **(offer or {})),
        bench=BENCH,
    )
    return replace(quote, **changes)


def one_staged() -> Quote:
    """The same in stages, with a diagnostic fee."""
    return one_quote({"stages": STAGES, "fee": 20.0, "ceiling": 198.4}, kind="staged")
