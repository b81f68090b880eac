"""Loss of a reduced plan: `python -m tests.benchmarks.plans.set_aside_gap [--units N]`.

Random units that are worth repairing on and small enough for an exact plan, with up to 6 open
checks, are planned again in reduced form: repairs in turn; only the 4, 2 or 0 most
informative checks; no second methods. The gap is the exact expected margin less that of the
reduced plan, and is never negative. Written to `results/set-aside.json`.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import replace
from pathlib import Path

import numpy as np

from triage.domain.shop.settings import Settings
from triage.domain.units.unit import Finding, Unit
from triage.errors import PlanTooLargeError
from triage.policy.pricing.valuation import Valuation
from triage.policy.problem import checks
from triage.policy.problem.build import PlanInputs, plan_inputs
from triage.policy.problem.normalise import normalise
from triage.policy.problem.subproblem import keep
from triage.policy.solver import reduce
from triage.policy.solver.repair_plan import STOP, RepairPlan, plan_space, solve_plan
from triage.prediction.forecast import forecast_unit
from triage.workflows.shop.shop import open_shop

RESULTS = Path(__file__).parents[1] / "results" / "set-aside.json"
MOST_CHECKS = 6
RAISING = ("frame-bent", "prior-repair", "board-bent", "liquid-on-board", "screws-missing")


def solved(inputs: PlanInputs, settings: Settings) -> RepairPlan:
    """Exact plan of a unit bought for nothing."""
    space = plan_space(inputs.problem)
    return solve_plan(space, Valuation(inputs, settings, space).purchase_terms(0.0))


def with_checks(inputs: PlanInputs, most: int) -> PlanInputs:
    """Only the first (most informative) checks."""
    return replace(inputs, problem=keep(inputs.problem, checks=range(min(most, len(inputs.problem.checks)))))


def narrower(inputs: PlanInputs) -> dict[str, PlanInputs]:
    """The ways to reduce a plan, each alone, and all together."""
    seconds, _ = reduce._dispensable(inputs)
    single = inputs
    for repair in seconds:
        single = reduce._without_repair(single, repair.slug)
    in_turn = replace(inputs, problem=replace(inputs.problem, in_turn=True))
    return {
        "repairs in turn": in_turn,
        "4 checks": with_checks(inputs, 4),
        "2 checks": with_checks(inputs, 2),
        "no checks": with_checks(inputs, 0),
        "no second methods": single,
        "in turn, 2 checks": with_checks(in_turn, 2),
    }


def main() -> None:
    """Compare on random units and write the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--units", type=int, default=60)
    count = parser.parse_args().units
    checks.MOST_OPEN_CHECKS = MOST_CHECKS
    shop, rng = open_shop(), np.random.default_rng(7)
    kinds = [k.slug for k in shop.catalogue.kind if k.role == "repair" and k.battery != "hazard"]
    gaps: dict[str, list[float]] = {}
    states, tried = [], 0
    while len(states) < count and tried < 20 * count:
        tried += 1
        tier = str(rng.choice(["middle", "upper", "top"]))
        found = [rng.choice(RAISING), *rng.choice(kinds, size=rng.integers(1, 5), replace=False)]
        unit = Unit("random", tier, tuple(Finding(str(kind)) for kind in dict.fromkeys(found)))
        unit = normalise(unit, shop.catalogue)
        told = forecast_unit(
            unit, shop.catalogue, shop.posterior, shop.priors, shop.settings, draws=200, nodes=5
        )
        inputs = plan_inputs(unit, told, shop.books_for(unit), owned=True)
        try:
            space = plan_space(inputs.problem)
        except PlanTooLargeError:
            continue
        exact = solved(inputs, shop.settings)
        if exact.act(0) == STOP:
            continue  # stripped at once, whatever the order
        states.append(len(space.space.states))
        for name, less in narrower(inputs).items():
            gap = exact.value - solved(less, shop.settings).value
            gaps.setdefault(name, []).append(100 * gap / inputs.working_price)
    table = {
        name: {
            "mean": round(float(np.mean(found)), 3),
            "worst": round(float(np.max(found)), 3),
            "share above 1": round(float(np.mean(np.array(found) > 1)), 3),
        }
        for name, found in gaps.items()
    }
    report = {
        "command": f"python -m tests.benchmarks.plans.set_aside_gap --units {count}",
        "posterior": shop.posterior.source,
        "units": count,
        "units tried": tried,
        "largest exact states": max(states),
        "gap, % of the working price": table,
    }
    RESULTS.parent.mkdir(exist_ok=True)
    RESULTS.write_text(json.dumps(report, indent=1) + "\n", encoding="utf-8")
    print(json.dumps(report, indent=1))  # noqa: T201


if __name__ == "__main__":
    main()
