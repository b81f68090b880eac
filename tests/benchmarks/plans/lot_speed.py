"""Units of a lot scored per second: `python -m tests.benchmarks.plans.lot_speed`.

Lots of distinct invented wrecks, each scored once from a shop just opened (nothing known of
any unit before it), on one thread, in seconds of processor time, so that other work on the
machine does not count. It is compared with a loop over the one-unit path, each time from a
shop just opened. Processes that share a core's caches still matter: on a busy machine the
same work took a quarter longer. Written to `results/lot-speed.json`. Run by hand.

"of one kind" groups units by plan size: no plan, where stripping is proved best without
one, or a plan with that many states.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path
from time import perf_counter, process_time
from typing import Any

# One thread, before NumPy is loaded.
os.environ.update(dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1"))

import numpy as np

from synthetic_cases.lot import invented_lot, lot_text
from synthetic_cases.truth import load_truth
from triage.domain.units.lot import LotRow
from triage.domain.units.lot_file import read_lot_text
from triage.policy.pricing.salvage_dominance import parts_whatever
from triage.workflows.answers.pricing import priced_at, unit_pricing
from triage.workflows.lots.score import score_row
from triage.workflows.shop.shop import Shop, open_shop

RESULTS = Path(__file__).parents[1] / "results" / "lot-speed.json"
COMMAND = "python -m tests.benchmarks.plans.lot_speed"
TODAY = date(2026, 11, 25)
SEED = 31
SIZES = (300, 3000)  # states of a small and of a middling plan


def measure(units: int, alone: int, findings: int | None) -> dict[str, Any]:
    """Score one lot, and some of its units one by one."""
    shop = open_shop(today=TODAY)
    rows = _rows(units, findings, shop)
    size = [_states(row, shop) for row in rows]
    held = replace(shop)
    spent = np.array([_seconds(lambda row=row: score_row(row, held, with_draws=False)) for row in rows])
    asked = np.unique(np.linspace(0, len(rows) - 1, alone).round().astype(int))
    one = np.array([_seconds(lambda row=rows[place]: _one_unit(row, replace(shop))) for place in asked])
    return {
        "units": len(rows),
        "units a second": _rate(spent),
        "one-unit path, units a second": _rate(one),
        "times the one-unit path": round(float(one.mean() / spent[asked].mean()), 1),
        "a million units, hours of one core": round(1e6 * float(spent.mean()) / 3600, 1),
        "of one kind": {
            name: {
                "units": int(mask.sum()),
                "units a second": _rate(spent[mask]),
                "one-unit path": _rate(one[mask[asked]]),
            }
            for name, mask in _kinds(np.array(size)).items()
        },
        "milliseconds of the middle unit": round(1000 * float(np.median(spent)), 1),
    }


def _rows(units: int, findings: int | None, shop: Shop) -> tuple[LotRow, ...]:
    text = lot_text(invented_lot(load_truth(), units, SEED, findings))
    return read_lot_text(text, "lot", shop.catalogue, shop.prices).rows


def _kinds(states: np.ndarray) -> dict[str, np.ndarray]:
    small, middling = SIZES
    return {
        "stripping proved best": states == 0,
        f"to {small:,} states": (states > 0) & (states <= small),
        f"to {middling:,} states": (states > small) & (states <= middling),
        "more": states > middling,
    }


def _states(row: LotRow, shop: Shop) -> int:
    pricing = unit_pricing(row.unit, shop)
    if parts_whatever(pricing.whole, shop.settings, shop.layouts):
        return 0
    return len(pricing.valuation.space.space.states)


def _one_unit(row: LotRow, shop: Shop) -> None:
    priced_at(unit_pricing(row.unit, shop), row.ask)


def _seconds(work: Callable[[], object]) -> float:
    start = process_time()
    work()
    return process_time() - start


def _rate(seconds: np.ndarray) -> float | None:
    return round(float(1.0 / seconds.mean()), 1) if len(seconds) else None


def main() -> None:
    """Measure a lot of units with three findings each, and one as the invented shop's intake has them."""
    parser = argparse.ArgumentParser(prog=COMMAND, description=__doc__)
    parser.add_argument("--units", type=int, default=400)
    parser.add_argument("--alone", type=int, default=25, help="units asked one by one")
    options = parser.parse_args()
    start = perf_counter()
    report = {
        "command": COMMAND,
        "machine": f"{platform.machine()}, {os.cpu_count()} cores, one used",
        "seconds are": "processor time of one thread",
        "load of the machine": round(os.getloadavg()[0], 1),
        "three findings each": measure(options.units, options.alone, 3),
        "as they come in": measure(options.units, options.alone, None),
    }
    RESULTS.parent.mkdir(exist_ok=True)
    RESULTS.write_text(json.dumps(report, indent=1) + "\n", encoding="utf-8")
    print(json.dumps(report, indent=1), f"{perf_counter() - start:.0f} s", sep="\n")  # noqa: T201


if __name__ == "__main__":
    main()
