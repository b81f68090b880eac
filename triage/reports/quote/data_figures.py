"""The shop's figures behind a quote to save data, as lines and as one JSON object; never for the owner."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

from triage.domain.data_job import DATA_OUTCOMES
from triage.domain.durations import bench_time
from triage.domain.money import money_text
from triage.policy.data_job.quote import DataQuote
from triage.reports.json_output.answer import SCHEMA
from triage.reports.quote.data_words import chance_words, way_words


def money_lines(quote: DataQuote) -> tuple[str, ...]:
    """Chances, what each way to ask for money means, and notes; below cost first."""
    bench, lines = quote.bench, []
    if bench.below_cost:
        lines.append(below_cost_words(quote))
    lines.append(chance_words(quote.chances))
    lines += [way_words(way, quote.currency) for way in quote.ways]
    return (*lines, *bench.notes)


def below_cost_words(quote: DataQuote) -> str:
    """That the price does not bring back what the work costs."""
    cost = quote.bench.break_even
    if cost is None:
        return "BELOW COST: no price covers the expected costs."
    return f"BELOW COST: a price of {_money(cost, quote)} or more covers the expected costs."


def data_lines(quote: DataQuote) -> tuple[str, ...]:
    """Price, what it earns, chances, fees, notes, then the steps with the cautions they call for."""
    offer, bench = quote.offer, quote.bench
    fee = f"fee for trying {_money(offer.fee, quote)}" if offer.fee else "no data, no fee"
    hourly = "" if bench.margin_per_hour is None else f"{_money(bench.margin_per_hour, quote)} a bench hour, "
    return (
        f"Quote {quote.number} to save data: {_money(offer.price, quote)} for all, "
        f"{_money(offer.part_price, quote)} for part of the data; {fee}",
        *money_lines(quote),
        f"Expected margin {_money(bench.expected_margin, quote)}, {hourly}"
        f"{bench_time(bench.minutes)} of bench time; risk of loss {bench.losses_in_20} in 20",
        *step_lines(quote),
    )


def step_lines(quote: DataQuote) -> tuple[str, ...]:
    """The steps, numbered; each caution in full where it is first called for."""
    lines, said = [], set()
    for number, step in enumerate(quote.steps, 1):
        repairs = f": {'; '.join(step.repairs)}" if step.repairs else ""
        lines.append(f"{number}. {step.name}{repairs}")
        for caution in step.cautions:
            if caution.slug not in said:
                lines.append(f"   ! {caution.title}. {' '.join(caution.lines)}")
                said.add(caution.slug)
    return tuple(lines)


def data_object(
    quote: DataQuote, invented: tuple[str, ...] = (), written: tuple[Path, ...] = ()
) -> dict[str, Any]:
    """Build the object: every field of `DataQuote`, unrounded, with the chance of each outcome.

    Parameters
    ----------
    invented : the shop's books that are the shipped, invented ones.
    written : files that the quote was written to.
    """
    told = asdict(quote)
    told["issued"] = quote.issued.isoformat()
    told["offer"]["valid_until"] = quote.offer.valid_until.isoformat()
    told["chances"] |= {outcome: quote.chances.of(outcome) for outcome in DATA_OUTCOMES}
    return {"schema": SCHEMA, "invented": list(invented), "written": [str(path) for path in written], **told}


def _money(amount: float, quote: DataQuote) -> str:
    return money_text(amount, quote.currency)
