"""Recover the invented shop's truth over many seeds: `python -m tests.benchmarks.fitting.recovery`.

For each seed a new record of the shop is simulated and the success model fitted to it.
`results/recovery.json` holds: how often the 90 % intervals contain the truth, pooled over
seeds (chances of a fresh job by kind and severity, the job effect's sd, effects of tier,
technician, cause and method), and the root mean square error of the chances of kinds with
fewer than 50 attempts against that of their raw rates. Run by hand; a fit takes under a
minute.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from pathlib import Path
from typing import Any

import numpy as np

from synthetic_cases.generate import generate_history, write_history
from synthetic_cases.truth import Truth, load_truth
from triage.domain.catalogue import Catalogue, load_catalogue
from triage.inference.sampling import SamplerSettings, fit_model
from triage.ledger.history.history_csv import read_history
from triage.outcome_models import success
from triage.posterior.interval import interval
from triage.prediction.success import fresh_chances
from triage.priors.prior_set import PriorSet, load_priors
from triage.shipped import shipped
from triage.workflows.fitting.fit import counts

RESULTS = Path(__file__).parents[1] / "results" / "recovery.json"
FEW = 50
# Half the usual draws: an interval's ends need fewer than the gate asks for.
SETTINGS = SamplerSettings(draws=500, tune=600)


def recover(
    truth: Truth, catalogue: Catalogue, priors: PriorSet, seed: int, folder: Path, settings: SamplerSettings
) -> dict[str, Any]:
    """Simulate, fit and compare one record of the shop."""
    path = folder / f"jobs-{seed}.csv"
    write_history(generate_history(truth, seed), path)
    history = read_history(path, catalogue)
    path.unlink()
    design = success.design(history, catalogue, priors)
    fitted = fit_model(success.build(design, priors), success.STORED, seed, settings, retry=False)
    draws = fitted.draws
    tally = counts(history, catalogue)
    held: dict[str, list[bool]] = {"job_sd": [_holds(draws["job_sd"].to_numpy(), truth.job_effect_sd)]}
    shrunk, raw = [], []
    kinds = [str(kind) for kind in draws["kind"].values]
    for severity in (1, 2, 3):
        chances = fresh_chances(draws, severity)  # (draw, kind)
        for place, kind in enumerate(kinds):
            if kind not in truth.kinds:
                continue
            exact = truth.kinds[kind].chance[severity - 1]
            held.setdefault(f"severity {severity}", []).append(_holds(chances[:, place], exact))
            if 0 < sum(n for n, _ in tally[kind]) < FEW and (tried := tally[kind][severity - 1])[0]:
                shrunk.append(chances[:, place].mean() - exact)
                raw.append(tried[1] / tried[0] - exact)
    effects = {"tier": truth.tiers, "technician": truth.technicians, "cause": truth.causes}
    for name, levels in effects.items():
        centre = np.mean([level.effect for level in levels.values()])
        for slug, level in levels.items():
            values = draws[f"{name}_effect"].sel({name: slug}).to_numpy()
            held.setdefault(name, []).append(_holds(values, level.effect - centre))
    return {
        "seed": seed,
        "attempts": len(design.attempts.fixed),
        "rhat": fitted.diagnostics.rhat,
        "ess": min(fitted.diagnostics.ess_bulk, fitted.diagnostics.ess_tail),
        "divergences": fitted.diagnostics.divergences,
        "seconds": fitted.diagnostics.seconds,
        "job_sd": float(draws["job_sd"].mean()),
        "held": {name: [int(sum(values)), len(values)] for name, values in held.items()},
        "squared_error": float(np.square(shrunk).sum()),
        "squared_error_raw": float(np.square(raw).sum()),
        "compared": len(raw),
    }


def _holds(draws: np.ndarray, exact: float) -> bool:
    low, high = interval(draws)
    return bool(low <= exact <= high)


def summary(runs: list[dict[str, Any]]) -> dict[str, Any]:
    """Pool runs over seeds."""
    names = list(dict.fromkeys(name for run in runs for name in run["held"]))
    pooled = {name: np.sum([run["held"][name] for run in runs], axis=0) for name in names}  # (held, of)
    everything = np.sum(list(pooled.values()), axis=0)
    compared = sum(run["compared"] for run in runs)
    return {
        "seeds": len(runs),
        "coverage": {name: round(float(held / of), 4) for name, (held, of) in pooled.items()},
        "coverage_all": round(float(everything[0] / everything[1]), 4),
        "rmse_few_attempts": round(float(np.sqrt(sum(r["squared_error"] for r in runs) / compared)), 4),
        "rmse_raw_rates": round(float(np.sqrt(sum(r["squared_error_raw"] for r in runs) / compared)), 4),
        "most_rhat": round(max(run["rhat"] for run in runs), 4),
        "divergences": sum(run["divergences"] for run in runs),
        "mean_seconds": round(float(np.mean([run["seconds"] for run in runs])), 1),
        "runs": runs,
    }


def main(arguments: list[str] | None = None) -> int:
    """Run every seed, writing the pooled results after each."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=20)
    parser.add_argument("--first", type=int, default=1001)
    parser.add_argument("--more", action="store_true", help="add to the results that are there")
    given = parser.parse_args(arguments)
    catalogue, truth = load_catalogue(), load_truth()
    priors = load_priors(shipped("models/priors/demo"), catalogue)
    RESULTS.parent.mkdir(exist_ok=True)
    runs = json.loads(RESULTS.read_text(encoding="utf-8"))["runs"] if given.more and RESULTS.exists() else []
    for seed in range(given.first, given.first + given.seeds):
        runs.append(recover(truth, catalogue, priors, seed, RESULTS.parent, SETTINGS))
        temporary = RESULTS.with_suffix(".tmp")
        temporary.write_text(json.dumps(summary(runs), indent=1) + "\n", encoding="utf-8")
        os.replace(temporary, RESULTS)
        sys.stderr.write(f"{seed}: {json.dumps(summary(runs)['coverage'])}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
