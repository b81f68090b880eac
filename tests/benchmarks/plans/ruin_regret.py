"""What not knowing how damage ruins parts costs: `python -m tests.benchmarks.plans.ruin_regret`.

Wrecks of an invented lot are planned with the catalogue's guesses of ruin halved and doubled. What is then
done, verdict, plan and parts taken out, is played where the catalogue's own guesses hold, beside what is done
by those. Both meet the same luck. Regret is the margin given up, money a wreck. Written to
`results/ruin-regret.json`. Run by hand.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np

from synthetic_cases.lot import invented_lot, lot_text
from synthetic_cases.truth import load_truth
from triage.domain.catalogue import Catalogue
from triage.domain.units.lot import LotRow
from triage.domain.units.lot_file import read_lot_text
from triage.errors import PlanTooLargeError
from triage.policy.answer.verdict import PARTS, TAKE
from triage.workflows.answers.pricing import PricedUnit, priced_at, settled, unit_pricing
from triage.workflows.shop.shop import Shop, open_shop

RESULTS = Path(__file__).parents[1] / "results" / "ruin-regret.json"
COMMAND = "python -m tests.benchmarks.plans.ruin_regret"
TODAY = date(2026, 11, 25)
SEED = 47
FACTORS = (0.5, 1.0, 2.0)  # 1 is a check: it must cost nothing


def with_ruin(catalogue: Catalogue, factor: float) -> Catalogue:
    """The catalogue with every chance of ruin, and every share lost, times a factor, at most 1."""

    def times(shares: tuple[float, ...]) -> Any:
        return tuple(min(1.0, factor * share) for share in shares)

    ruin = tuple(
        replace(
            one,
            chance=times(one.chance),
            left=tuple(1 - lost for lost in times(tuple(1 - s for s in one.left))),
        )
        for one in catalogue.ruin
    )
    return replace(catalogue, ruin=ruin)


def made(guessed: PricedUnit, true: PricedUnit) -> float:
    """Mean margin of doing what `guessed` says where `true` holds, money; 0 where it is declined."""
    if guessed.verdict not in (TAKE, PARTS):
        return 0.0
    mine, theirs = settled(true.outcome).plan, settled(guessed.outcome).plan
    valuation, paid = true.pricing.valuation, true.valued_at
    same = len(mine.policy.choice) == len(theirs.policy.choice)
    space = mine.plan_space if same else valuation.space  # states that cannot matter are left out by price
    if len(space.space.states) != len(theirs.policy.choice):
        raise ValueError("the plans have other states")
    plan = replace(theirs, plan_space=space)
    return float(valuation.outcome_of(plan, paid).margins.mean())


def regrets(rows: list[LotRow], shop: Shop, factor: float) -> list[dict[str, Any]]:
    """For each wreck that can be planned: what is given up, and whether the verdict is another."""
    other = replace(shop, catalogue=with_ruin(shop.catalogue, factor))
    found = []
    for row in rows:
        try:
            true = priced_at(unit_pricing(row.unit, shop), row.ask or 0.0)
            guessed = priced_at(unit_pricing(row.unit, other), row.ask or 0.0)
            own = made(true, true)
            lost = own - made(guessed, true)
        except (PlanTooLargeError, ValueError):
            continue
        if true.pricing.right.clear < 1.0:
            continue
        found.append({"own": own, "lost": lost, "other verdict": true.verdict != guessed.verdict})
    return found


def main() -> None:
    """Play a lot, and write the result."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--units", type=int, default=240)
    units = asked.parse_args().units
    shop = open_shop(today=TODAY)
    lot = invented_lot(load_truth(), units, SEED)
    rows = list(read_lot_text(lot_text(lot), "lot.csv", shop.catalogue, shop.prices).rows)
    told: dict[str, Any] = {
        "command": COMMAND,
        "units": units,
        "seed": SEED,
        "currency": shop.settings.currency,
    }
    for factor in FACTORS:
        found = regrets(rows, shop, factor)
        lost = np.array([one["lost"] for one in found])
        told[f"ruin times {factor:g}"] = {
            "wrecks": len(found),
            "left out": len(rows) - len(found),
            "mean margin": round(float(np.mean([one["own"] for one in found])), 2),
            "mean regret": round(float(lost.mean()), 3),
            "standard error": round(float(lost.std() / np.sqrt(len(lost))), 3),
            "worst": round(float(lost.max()), 2),
            "verdict changed": sum(one["other verdict"] for one in found),
        }
    RESULTS.write_text(json.dumps(told, indent=1) + "\n", encoding="utf-8")
    print(json.dumps(told, indent=1))  # noqa: T201


if __name__ == "__main__":
    main()
