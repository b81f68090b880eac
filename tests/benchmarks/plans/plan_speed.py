"""Time of a plan: `python -m tests.benchmarks.plans.plan_speed`.

A unit with 8 findings and 4 open checks, from 4,000 draws, warm; and the share of
likelihoods W, recursion and distribution. Written to `results/plan-speed.json`. Timings are
processor time of one thread of the machine it runs on.
"""

from __future__ import annotations

import json
import os
import platform
from pathlib import Path
from time import process_time

# One thread, before NumPy is loaded.
os.environ.update(dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1"))

import numpy as np

from triage.domain.units.unit import Finding, Unit
from triage.policy.pricing.valuation import Valuation
from triage.policy.problem.build import plan_inputs
from triage.policy.problem.normalise import normalise
from triage.policy.solver.moves import plan_factors
from triage.policy.solver.reduce import small_enough
from triage.policy.solver.repair_plan import solve_plan
from triage.policy.solver.simulate import play
from triage.policy.solver.state_likelihood import likelihoods
from triage.prediction.forecast import forecast_unit
from triage.workflows.shop.shop import DRAWS, NODES, open_shop

RESULTS = Path(__file__).parents[1] / "results" / "plan-speed.json"
UNIT = Unit(
    "eight findings",
    "upper",
    tuple(
        Finding(kind)
        for kind in (
            "frame-bent", "display-panel-dead", "antenna-flex-torn", "port-pins-damaged",
            "earpiece-weak", "camera-dead", "vibration-motor-dead", "prior-repair",
        )
    ),
)  # fmt: skip
REPEATS = 7


def timed(work) -> float:
    """Median milliseconds of a few warm runs, processor time."""
    work()
    spent = []
    for _ in range(REPEATS):
        start = process_time()
        work()
        spent.append(1000 * (process_time() - start))
    return round(float(np.median(spent)), 1)


def measure(draws: int | None, nodes: int) -> dict[str, float | int]:
    """Times of one unit's plan from some draws and nodes, in milliseconds."""
    shop = open_shop()
    unit = normalise(UNIT, shop.catalogue)

    def forecast():
        return forecast_unit(
            unit, shop.catalogue, shop.posterior, shop.priors, shop.settings, draws=draws, nodes=nodes
        )

    told = forecast()
    inputs = plan_inputs(unit, told, shop.books_for(unit), owned=True)
    inputs, space, left_out = small_enough(inputs)
    valuation = Valuation(inputs, shop.settings, space)
    terms = valuation.purchase_terms(40.0)
    plan = solve_plan(space, terms)
    factors = plan_factors(inputs.problem)
    return {
        "draws": int(told.draw.max()) + 1,
        "nodes": nodes,
        "states": len(space.space.states),
        "open checks": sum(check.result is None for check in inputs.problem.checks),
        "left out": len(left_out),
        "forecast": timed(forecast),
        "states and likelihoods": timed(lambda: small_enough(inputs)),
        "likelihoods W alone": timed(
            lambda: likelihoods(space.space.states, factors, inputs.problem.weights, inputs.problem.nodes)
        ),
        "recursion": timed(lambda: solve_plan(space, terms)),
        "distribution": timed(lambda: play(plan, terms, inputs.luck)),
    }


def main() -> None:
    """Measure the answer's own setting and the full 4,000 draws."""
    table = [measure(DRAWS, NODES), measure(None, NODES)]
    RESULTS.parent.mkdir(exist_ok=True)
    command = "python -m tests.benchmarks.plans.plan_speed"
    report = {"command": command, "machine": platform.machine(), "milliseconds": table}
    RESULTS.write_text(json.dumps(report, indent=1) + "\n", encoding="utf-8")
    print(json.dumps(report, indent=1))  # noqa: T201


if __name__ == "__main__":
    main()
