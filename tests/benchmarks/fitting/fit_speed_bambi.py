"""A general formula front end on the same rows, run by `fit_speed` in its own environment.

bambi (Capretto et al. 2022, J. Stat. Softw. 103:15) writes the PyMC model, nutpie samples
it. Factors of few levels are common effects, which mixes best; effects of kinds, families
and jobs are in units of their sd. Its severities are the same for every kind, so it has
less to learn than ours.
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from tests.benchmarks.fitting.fit_speed_sampler import Effort, run

COMMON = ("severity", "tier", "technician", "cause", "method")
FORMULA = f"fixed ~ {' + '.join(COMMON)} + again + (1|family) + (1|kind) + (1|job)"


def model_of(rows: pd.DataFrame) -> Any:
    """The bambi model, built."""
    import bambi

    spread = {f"1|{name}": bambi.Prior("Normal", mu=0, sigma=bambi.Prior("HalfNormal", sigma=1))
              for name in ("family", "kind", "job")}  # fmt: skip
    common = dict.fromkeys((*COMMON, "again"), bambi.Prior("Normal", mu=0, sigma=1))
    made = bambi.Model(
        FORMULA,
        rows,
        family="bernoulli",
        priors={**common, **spread, "Intercept": bambi.Prior("Normal", mu=0, sigma=2)},
    )
    made.build()
    return made


def numbers_of(rows: pd.DataFrame, first: dict[str, str]) -> Any:
    """Give the same numbers as of our own model; `first` is each factor's level without a column."""
    family = rows.groupby("kind")["family"].first()
    families = sorted(rows["family"].unique())
    place = [families.index(family[kind]) for kind in sorted(family.index)]

    def effects(draws: dict[str, np.ndarray], name: str) -> np.ndarray:
        """All levels' effects, the first one's zero put in front, (chain, draw, level)."""
        return np.concatenate([np.zeros((*draws[name].shape[:2], 1)), draws[name]], axis=2)

    def numbers(draws: dict[str, np.ndarray]) -> np.ndarray:
        found = {name: effects(draws, name) for name in COMMON}
        level = draws["Intercept"]
        for name in COMMON:  # the front end takes every column less its mean
            share = rows[name].value_counts(normalize=True)
            order = [first[name], *sorted(set(rows[name]) - {first[name]})]
            level = level - found[name] @ share[order].to_numpy()
        level = level - draws["again"] * rows["again"].mean()
        for name in ("tier", "technician", "cause"):
            level = level + found[name].mean(axis=2)
            found[name] = found[name] - found[name].mean(axis=2, keepdims=True)
        kinds = level[..., None] + draws["1|kind"] + draws["1|family"][..., place]
        logits = kinds[..., None] + found["severity"][:, :, None, :]
        single = (draws["again"], draws["1|job_sigma"])
        parts = [logits, *(found[name] for name in COMMON[1:4]), draws["method"], *single]
        return np.concatenate([part.reshape(*part.shape[:2], -1) for part in parts], axis=2)

    return numbers


def main() -> None:
    """Time the fit of one table and print the report."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("rows", type=Path)
    parser.add_argument("--cap", type=float, required=True)
    parser.add_argument("--wall", type=float, required=True)
    parser.add_argument("--seed", type=int, required=True)
    given = parser.parse_args()
    import bambi
    import nutpie

    rows = pd.read_csv(given.rows, dtype={"severity": str, "job": str})
    first = {
        name: "2" if name == "severity" else "usual" if name == "method" else min(rows[name])
        for name in COMMON
    }
    for name in COMMON:
        rows[name] = pd.Categorical(rows[name], [first[name], *sorted(set(rows[name]) - {first[name]})])
    model = model_of(rows).backend.model
    kept = [
        var.name
        for var in (*model.free_RVs, *model.deterministics)
        if var.name not in ("1|job", "1|job_offset", "p")
    ]

    def compiled() -> Any:
        return nutpie.compile_pymc_model(model, backend="numba", var_names=kept)

    report, trace = run(compiled, numbers_of(rows, first), Effort(given.cap, given.wall, given.seed))
    sd = trace.posterior["1|job_sigma"].to_numpy()[:, : report["draws_a_chain"]]
    report["job_sd"] = [round(float(sd.mean()), 4), round(float(sd.std()), 4)]
    report["versions"] = {"bambi": bambi.__version__, "nutpie": nutpie.__version__}
    json.dump(report, sys.stdout)


if __name__ == "__main__":
    main()
