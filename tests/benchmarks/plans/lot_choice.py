"""Time of a choice from a lot, and the loss of a greedy choice.

`python -m tests.benchmarks.plans.lot_choice`.

Made-up scored lots (no scorer behind them; 1,000 draws), cash for about a fifth of the
units and hours for about a quarter. Written to `results/lot-choice.json`: seconds of the
integer programme and of the worst-tenth search, what is proved, and how far greedy by
margin per hour falls short of either. Run by hand.
"""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path

import numpy as np

from tests.lot_selection.made_lots import made_lot, offered
from triage.lot_selection.best_choice import best_choice, greedy_choice
from triage.lot_selection.lot_risk import tail_mean
from triage.lot_selection.worst_tenth import worst_tenth_choice

RESULTS = Path(__file__).parents[1] / "results" / "lot-choice.json"
SIZES, SEEDS, DRAWS = (60, 240, 1000), 4, 1000


def one(units: int, seed: int) -> dict[str, float]:
    """Choose from one lot in every way."""
    lot = made_lot(units, DRAWS, seed)
    offers = offered(lot, cash=0.2 * lot.prices.sum(), hours=0.25 * lot.minutes.sum() / 60)

    def tail(taken: np.ndarray) -> float:
        return tail_mean(offers.draws[taken].sum(axis=0), float(np.sqrt(offers.luck[taken].sum())))

    begun = time.perf_counter()
    best = best_choice(offers)
    between = time.perf_counter()
    careful = worst_tenth_choice(offers)
    ended = time.perf_counter()
    greedy = greedy_choice(offers).taken
    return {
        "seconds": between - begun,
        "seconds_worst_tenth": ended - between,
        "not_proved": best.gap / best.value,
        "not_proved_worst_tenth": careful.gap / careful.value,
        "greedy_short": 1 - offers.margins[greedy].sum() / best.value,
        "greedy_short_worst_tenth": 1 - tail(greedy) / careful.value,
        "expected_given_up_by_the_careful": 1 - offers.margins[careful.taken].sum() / best.value,
        "worst_tenth_gained_by_the_careful": careful.value / tail(best.taken) - 1,
    }


def main() -> int:
    """Choose from every lot and write the means."""
    sizes = {}
    for units in SIZES:
        runs = [one(units, seed) for seed in range(SEEDS)]
        sizes[str(units)] = {name: round(float(np.mean([run[name] for run in runs])), 4) for name in runs[0]}
        sys.stdout.write(f"{units} units: {json.dumps(sizes[str(units)])}\n")
    result = {
        "command": "python -m tests.benchmarks.plans.lot_choice",
        "lots_of_each_size": SEEDS,
        "units": sizes,
    }
    RESULTS.write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
