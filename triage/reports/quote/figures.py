"""The shop's figures behind a quote, as lines and as one JSON object; never for the owner."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

from triage.domain.counts import forecast_in_twenty, in_twenty
from triage.domain.durations import bench_time
from triage.domain.money import money_text
from triage.policy.answer.quote import Quote
from triage.policy.pricing.quote_prices import BestPrice
from triage.reports.json_output.answer import SCHEMA

KIND_WORDS = {
    "fixed": "fixed price; no fix, no fee",
    "diagnostic-fee": "diagnostic fee included in the price",
    "staged": "estimate in stages",
}
STAGE_WORDS = {"counter": "at the counter", "opened": "after opening", "board level": "with the board out"}


def figure_lines(quote: Quote) -> tuple[str, ...]:
    """Price, what it earns, whether it is below cost, what would earn most, and notes."""
    offer, bench = quote.offer, quote.bench
    lines = [f"Quote {quote.number}: {_money(offer.price, quote)}, {KIND_WORDS[quote.kind]}; tax included"]
    lines += stage_lines(quote)
    if bench.below_cost:
        lines.append(below_cost_words(quote))
    lines.append(least_words(quote))
    hourly = (
        ""
        if bench.margin_per_hour is None
        else f"{_money(bench.margin_per_hour, quote)} a bench hour left after the bench rate, "
    )
    lines.append(
        f"Expected margin {_money(bench.expected_margin, quote)}, "
        f"{hourly}{bench_time(bench.minutes)} of bench time; "
        f"risk of loss {forecast_in_twenty(bench.losses_in_20 / 20)}; "
        f"chance of success {forecast_in_twenty(bench.chance_finished)}"
    )
    if bench.best is not None:
        lines.append(best_words(bench.best, quote))
    if bench.priced_by:
        lines.append(f"Prices used: {bench.priced_by}")
    return (*lines, *bench.notes)


def stage_lines(quote: Quote) -> tuple[str, ...]:
    """The price range at each stage of looking; one line where all stages have the same one price."""
    if (one := quote.offer.one_total) is not None:
        return (f"One total, confirmed at each stage: {_money(one, quote)}",)
    lines = []
    for stage in quote.offer.stages:
        if stage.low is None or stage.high is None or stage.maximum is None:
            words = "no price can be given"
        else:
            low, high = _money(stage.low, quote), _money(stage.high, quote)
            top = _money(stage.maximum, quote)
            words = (
                low if low == high == top else f"{low if low == high else f'{low} to {high}'}, limit {top}"
            )
        lines.append(f"{STAGE_WORDS.get(stage.name, stage.name).capitalize()}: {words}")
    return tuple(lines)


def least_words(quote: Quote) -> str:
    """The lowest price that meets the shop's rule."""
    least = quote.bench.least
    if least is None:
        return "No price up to three times the resale value meets your rule."
    return f"Lowest quote that meets your rule: {_money(least, quote)}"


def below_cost_words(quote: Quote) -> str:
    """That the price does not bring back what the work costs."""
    cost = quote.bench.break_even
    if cost is None:
        return "BELOW COST: no price up to three times the resale value covers the expected costs."
    return f"BELOW COST: a price of {_money(cost, quote)} or more covers the expected costs."


def best_words(best: BestPrice, quote: Quote) -> str:
    """The price that earns most, given how owners answer."""
    return (
        f"Highest expected margin at {_money(best.price, quote)}: {in_twenty(best.accepted)} owners accept, "
        f"{_money(best.earns, quote)} per enquiry"
    )


def quote_object(
    quote: Quote, invented: tuple[str, ...] = (), written: tuple[Path, ...] = ()
) -> dict[str, Any]:
    """Build the object: every field of `Quote`, unrounded.

    Parameters
    ----------
    invented : the shop's books that are the shipped, invented ones.
    written : files that the quote was written to.
    """
    told = asdict(quote)
    told["issued"] = quote.issued.isoformat()
    told["offer"]["valid_until"] = quote.offer.valid_until.isoformat()
    return {"schema": SCHEMA, "invented": list(invented), "written": [str(path) for path in written], **told}


def _money(amount: float, quote: Quote) -> str:
    return money_text(amount, quote.currency)
