"""Calibrate every outcome model by simulation: `python -m tests.benchmarks.fitting.calibration`.

A shop's truth is drawn from a model's own prior and a record of `JOBS` jobs is simulated
from it. The product's code encodes the record, builds the model and samples it; the truth
is then ranked among the draws. Over many shops the ranks of a correct fit are uniform,
whatever the prior (Talts et al. 2018).

A short run is enough for a rank if it has no divergence and the ranked numbers mixed: R-hat
1.03, as many effective draws as are ranked among. Any other run is sampled again more
carefully, then as long as the product's own second try, and must pass the product's gate.
If it fails, the shop counts with a rank at an end of the scale, the farthest from uniform.
Records in which some effect of a model has no level (a tier that sold nothing) are skipped:
the choice depends only on the record, so the ranks stay uniform. All quantities of all
models are tested together at 5 %, each at 5 % divided by their number.

A run continues where the last one ended (`results/calibration/`, one file per model) until
its minutes are over, and writes the summary to `models/calibration.json`. A model whose
code has changed since starts anew.
"""

from __future__ import annotations

import argparse
import gc
import json
import os
import sys
import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np

from tests.benchmarks.fitting.calibration_lift import LOG_LIKELIHOOD, Lifted
from tests.benchmarks.fitting.calibration_ranks import DRAWS, band_p, chi_square_p, rank, with_failures
from tests.benchmarks.fitting.calibration_shop import (
    BENCHES,
    CAUSES,
    JOBS,
    PERIODS,
    PRIORS,
    SUSPECTED,
    TIERS,
    Truth,
    catalogue,
    played,
    taken_in,
)
from triage.inference import backend
from triage.inference.diagnostics import diagnose, failures
from triage.inference.sampling import SamplerSettings, thinned
from triage.outcome_models.registry import MODELS
from triage.workflows.fitting.calibration import model_structure

RANKS = Path(__file__).parents[1] / "results" / "calibration"
SUMMARY = Path(__file__).parents[3] / "models" / "calibration.json"
SHORT = SamplerSettings(draws=300, tune=300, chains=2, cores=1)
CAREFUL = SamplerSettings(draws=500, tune=500, chains=2, cores=1, target_accept=0.98)
AS_THE_PRODUCT = SamplerSettings(draws=1500, tune=1200, chains=4, cores=1, target_accept=0.98)
MOST_RHAT = 1.03
# Most shops; the truths of all are drawn at once.
MOST = 600
TEMPLATES = 6
# With fewer shops no model counts as passed.
LEAST = 200

QUANTITIES: dict[str, tuple[tuple[str, tuple[int, ...]], ...]] = {
    "hidden_fault": (
        ("base", (0,)), ("base", (1,)), ("weight", (0,)), ("weight", (2,)), ("weight_sd", ()),
        ("suspected", (0,)),
    ),
    "bench_minutes": (
        ("log_minutes", (0,)), ("severity_step", (1,)), ("method_effect", (0,)), ("failed_effect", (0,)),
        ("spread", ()), ("tail_share", ()), ("tail_shift", ()), ("tail_spread", ()),
    ),
    "parts_cost": (
        ("log_ratio", (0,)), ("level", ()), ("family_effect_sd", ()), ("spread", (0,)), ("bought_again", ()),
    ),
    "comeback": (
        ("log_rate", (0,)), ("level", ()), ("family_effect_sd", ()), ("later", (0,)), ("later", (1,)),
    ),
    "sale_price": (
        ("level", ()), ("first_drop", ()), ("second_drop", ()), ("spread", ()), ("tier_effect", (0,)),
        ("tier_drop", (0,)),
    ),
    "success": (
        ("job_sd", ()), ("shop", ()), ("kind_spread", ()), ("drift_sd", ()), ("family_sd", ()),
        ("technician_sd", ()), ("kind_logit", (0,)), ("kind_logit", (10,)), ("severity_effect", (0, 2)),
        ("tier_effect", (0,)),
        ("technician_effect", (0,)), ("method_effect", (0,)),
    ),
}  # fmt: skip
TESTS = sum(len(each) + 1 for each in QUANTITIES.values())
LEVEL = 0.05 / TESTS


def label(name: str, index: tuple[int, ...]) -> str:
    """Name of one number of a variable."""
    return name + (f"[{','.join(map(str, index))}]" if index else "")


class Shops:
    """Truths drawn from all six priors, and the record each gives."""

    def __init__(self) -> None:
        import pymc as pm

        self.catalogue, self.priors = catalogue(), PRIORS
        self._drawn: dict[str, dict[str, np.ndarray]] = {}
        self._coords: dict[str, dict[str, Any]] = {}
        self._dims: dict[str, dict[str, tuple[str, ...]]] = {}
        for place, (name, model) in enumerate(MODELS.items()):
            design = _with_levels(name, model.prior_design(self.catalogue, self.priors))
            graph = model.build(design, self.priors)
            variables = list(dict.fromkeys([*graph.free_RVs, *graph.deterministics]))
            values = pm.draw(variables, draws=MOST, random_seed=1000 + place)
            self._drawn[name] = {v.name: x for v, x in zip(variables, values, strict=True)}
            self._coords[name] = dict(design.coords)
            self._dims[name] = {v.name: graph.named_vars_to_dims.get(v.name, ()) for v in variables}

    def values(self, name: str, shop: int) -> dict[str, np.ndarray]:
        """One model's truth of a shop, arrays by variable."""
        return {variable: draws[shop] for variable, draws in self._drawn[name].items()}

    def truth(self, shop: int) -> Truth:
        """All truths of a shop, by label."""
        return {name: {v: self._labelled(name, v, x) for v, x in self.values(name, shop).items()}
                for name in MODELS}  # fmt: skip

    def _labelled(self, name: str, variable: str, values: np.ndarray) -> Any:
        coords = self._coords[name]
        labels = [coords[dim] for dim in self._dims[name][variable] if dim in coords]
        if np.ndim(values) == 0:
            return float(values)
        if len(labels) < np.ndim(values):  # by place, without a name
            return values.tolist()
        if len(labels) == 1:
            return dict(zip(labels[0], values.tolist(), strict=True))
        return {(a, b): float(values[i, j]) for i, a in enumerate(labels[0]) for j, b in enumerate(labels[1])}

    def designs(self, name: str, first: int) -> Iterator[tuple[int, Any]]:
        """Designs of the shops from `first` on whose record has a level for every effect."""
        for shop in range(first, MOST):
            history = played(self.truth(shop), self.priors, 50_000 + shop)
            design = MODELS[name].design(history, self.catalogue, self.priors)
            if design is not None and all(
                len(v) == len(self._coords[name][k]) for k, v in design.coords.items()
            ):
                yield shop, design

    def model(self, name: str, design: Any) -> Any:
        """Build the product's model of a design."""
        return MODELS[name].build(design, self.priors)


def _with_levels(name: str, design: Any) -> Any:
    """The design without rows, with the factor levels that every record has."""
    if name == "sale_price":
        return replace(design, coords={"tier": tuple(sorted(TIERS))})
    if name == "hidden_fault":
        return replace(design, coords={**design.coords, "look_reason": [SUSPECTED]})
    if name != "success":
        return design
    levels = design.attempts.levels
    factors = {"tier": TIERS, "technician": BENCHES, "cause": CAUSES}
    coords = {**levels.coords, **{k: tuple(sorted(v)) for k, v in factors.items()}, "period": PERIODS}
    levels = replace(levels, coords=coords)
    # An attempt a job, for how a record is spread over its periods; no outcome is learned from them.
    days = [taken_in(number) for number in range(JOBS)]
    indices = levels.indices([coords["kind"][0]] * JOBS, [2] * JOBS, date=days)
    spread = replace(design.attempts, levels=levels, indices=indices, fixed=np.zeros(JOBS, dtype=bool))
    return replace(design, attempts=spread)


def numbers(name: str) -> list[tuple[str, str, tuple[int, ...]]]:
    """The quantities of a model that are ranked: label, variable, index."""
    return [(label(v, index), v, index) for v, index in (*QUANTITIES[name], (LOG_LIKELIHOOD, ()))]


def fit(name: str, lifted: Lifted, data: dict[str, np.ndarray], seed: int) -> tuple[Any, int]:
    """Draws of one record, dimensions (draw, ...), and how many tries were refused, 3 being all."""
    for tries, settings in enumerate((SHORT, CAREFUL, AS_THE_PRODUCT)):
        draws, statistics = lifted.sample(data, settings, seed + tries)
        if settings is AS_THE_PRODUCT:
            refused = bool(failures(diagnose(draws, statistics)))
        else:
            refused = bool(statistics["diverging"].any()) or not all(
                _mixed(draws[v].transpose("chain", "draw", ...).to_numpy()[(..., *index)])
                for _, v, index in numbers(name)
            )
        if not refused:
            return thinned(draws, DRAWS), tries
    return thinned(draws, DRAWS), 3


def _mixed(values: np.ndarray) -> bool:
    return (backend.rank_normalised_rhat(values) <= MOST_RHAT) and (backend.effective_sample(values) >= DRAWS)


def calibrate(name: str, shops: Shops, wanted: int, held: dict[str, Any], until: float, save: Any) -> None:
    """Add shops to the results of one model until there are enough or the time is over."""
    found = zip(range(TEMPLATES), shops.designs(name, 0), strict=False)
    lifted = Lifted([shops.model(name, design) for _, (_, design) in found])
    gc.collect()
    gc.freeze()  # the compiler leaves millions of objects that every later collection would walk
    for shop, design in shops.designs(name, held["next"]):
        if held["shops"] >= wanted or time.monotonic() > until:
            break
        data = lifted.data(shops.model(name, design))
        draws, refused = fit(name, lifted, data, 10 * shop + 1)
        held["shops"] += 1
        held["next"] = shop + 1
        held["tries"][refused] += 1
        if refused < 3:
            truth = shops.values(name, shop)
            truth[LOG_LIKELIHOOD] = np.array(lifted.log_likelihood(truth, data))
            for what, variable, index in numbers(name):
                values = draws[variable].to_numpy()[(slice(None), *index)]
                held["ranks"].setdefault(what, []).append(rank(float(truth[variable][index]), values))
        if held["shops"] % 5 == 0:
            save()
        if held["shops"] % 20 == 0:
            sys.stderr.write(f"{name}: {held['shops']} shops, tries {held['tries']}\n")
    save()


def summary(held: dict[str, Any]) -> dict[str, Any]:
    """Summarise the ranks, model by model."""
    models = {}
    for name, of in held.items():
        quantities = []
        for quantity, ranks in of["ranks"].items():
            every = with_failures(np.array(ranks), of["tries"][3])
            p, chi = band_p(every), chi_square_p(every)
            quantities.append(
                {"name": quantity, "p": round(p, 5), "chi_square_p": round(chi, 5), "inside_band": p >= LEVEL}
            )
        models[name] = {
            "shops": of["shops"],
            "failed": of["tries"][3],
            "quantities": quantities,
            "passed": of["shops"] >= LEAST and all(q["inside_band"] for q in quantities),
            "structure": of["structure"],
        }
    return {
        "schema": 1,
        "made": max((of["made"] for of in held.values()), default=""),
        "command": "python -m tests.benchmarks.fitting.calibration",
        "jobs_a_shop": JOBS,
        "draws_ranked_among": DRAWS,
        "tests": TESTS,
        "level_of_all_tests": 0.05,
        "level_of_each": round(LEVEL, 6),
        "models": models,
    }


def all_held() -> dict[str, Any]:
    """Read the ranks so far, by model."""
    files = {name: RANKS / f"{name}.json" for name in QUANTITIES}
    return {n: json.loads(f.read_text(encoding="utf-8")) for n, f in files.items() if f.exists()}


def write(path: Path, value: Any, indent: int | None = 1) -> None:
    """Write JSON to a temporary file and rename it."""
    temporary = path.with_suffix(f".{os.getpid()}.tmp")
    temporary.write_text(json.dumps(value, indent=indent) + "\n", encoding="utf-8")
    os.replace(temporary, path)


def main(arguments: list[str] | None = None) -> int:
    """Run until the minutes are over, model by model."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--models", nargs="+", default=list(QUANTITIES), choices=list(QUANTITIES))
    parser.add_argument("--shops", type=int, default=LEAST)
    parser.add_argument("--minutes", type=float, default=600.0)
    given = parser.parse_args(arguments)
    until = time.monotonic() + 60 * given.minutes
    shops = Shops()
    RANKS.mkdir(parents=True, exist_ok=True)

    def save() -> None:
        of["made"] = date.today().isoformat()
        write(RANKS / f"{name}.json", of, None)
        write(SUMMARY, summary(all_held()))

    for name in given.models:
        of = all_held().get(name, {})
        if of.get("structure") != model_structure(name):
            of = {
                "shops": 0,
                "tries": [0, 0, 0, 0],
                "next": 0,
                "ranks": {},
                "structure": model_structure(name),
            }
        if of["shops"] < given.shops and time.monotonic() < until:
            calibrate(name, shops, given.shops, of, until, save)
    return 0


if __name__ == "__main__":
    sys.exit(main())
