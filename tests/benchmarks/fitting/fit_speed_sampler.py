"""Sample until a list of quantities is precise enough, and report the cost.

Independent of the models and of the project, so that the same code times a rival in its own
environment. Chains pause while they are inspected; the time for that is not counted.
"""

from __future__ import annotations

import time
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

MOST_RHAT = 1.01
TARGETS = (400, 1000)
CHAINS = 4
MOST_DRAWS = 6000
FEWEST_DRAWS = 100
# Chains are inspected again after this much more work.
PATIENCE = 1.1

Numbers = Callable[[dict[str, np.ndarray]], np.ndarray]


@dataclass(frozen=True)
class Effort:
    """Time limits of a rival.

    cap : seconds of two free cores, which is half the processor's seconds:
        other work on the machine does not lengthen them.
    wall : wall-clock seconds after which it is stopped, whatever processor time it had.
    """

    cap: float
    wall: float
    seed: int
    tune: int = 800
    target_accept: float = 0.9
    cores: int = 2


def run(compile_model: Callable[[], Any], numbers: Numbers, effort: Effort) -> tuple[dict[str, Any], Any]:
    """Compile and sample with nutpie until every target is met or the cap is reached.

    Parameters
    ----------
    compile_model : makes nutpie's compiled model.
    numbers : from draws by name, each (chain, draw, ...), the reported numbers, (chain, draw, number).

    Returns
    -------
    report : as it is written to the results. trace : all draws, as nutpie gives them.
    """
    import nutpie

    warnings.simplefilter("ignore")
    started = time.process_time()
    compiled = compile_model()
    compiling = time.process_time() - started
    began, wall = time.process_time(), time.monotonic()
    # Every chain has a thread, so that all four can be inspected together.
    sampler = nutpie.sample(
        compiled, draws=MOST_DRAWS, tune=effort.tune, chains=CHAINS, cores=CHAINS, seed=effort.seed,
        target_accept=effort.target_accept, save_warmup=False, progress_bar=False, blocking=False,
    )  # fmt: skip
    looking, warm, met, found, trace = 0.0, None, {}, {}, None
    due = 0.5
    while True:
        time.sleep(0.1)
        spent = (time.process_time() - began - looking) / effort.cores
        over = spent > effort.cap or time.monotonic() - wall > effort.wall
        if spent < due and not over:
            continue
        sampler.pause()
        paused = time.process_time()
        held, lengths = _post_warm_up(sampler, effort.tune)
        if min(lengths) > 0 and warm is None:
            warm = spent
        if min(lengths) >= FEWEST_DRAWS:
            values = numbers({name: column[:, : min(lengths)] for name, column in held.items()})
            found = diagnosed(values)
            for target in TARGETS:
                reached = found["least_bulk"] >= target and found["least_tail"] >= target
                if reached and found["rhat"] <= MOST_RHAT:
                    met.setdefault(target, spent)
        due = max(spent * PATIENCE, spent + 0.3)
        looking += time.process_time() - paused
        if over or max(TARGETS) in met or min(lengths) == MOST_DRAWS:
            trace = sampler.abort()
            break
        sampler.resume()
    divergences, steps = (
        trace.sample_stats[name].to_numpy()[:, : min(lengths)] for name in ("diverging", "n_steps")
    )
    ended = "cap" if spent > effort.cap else "cut short" if over else "draws"
    ended = "targets met" if max(TARGETS) in met else ended
    least = min(found.get("least_bulk", 0.0), found.get("least_tail", 0.0))
    report = {
        "compile_seconds": round(compiling, 1),
        "warm_up_seconds": None if warm is None else round(warm, 2),
        "sampling_seconds": round(spent, 2),
        "wall_seconds": round(time.monotonic() - wall, 1),
        "ended": ended,
        "draws_a_chain": int(min(lengths)),
        **{name: round(value, 4) for name, value in found.items()},
        "least_a_second": round(least / spent, 2),
        "seconds_to": {str(target): round(met[target], 2) if target in met else None for target in TARGETS},
        "divergences": int(divergences.sum()),
        "steps_a_draw": round(float(steps.mean()), 1) if steps.size else None,
    }
    return report, trace


def _post_warm_up(sampler: Any, tune: int) -> tuple[dict[str, np.ndarray], list[int]]:
    """Draws so far after warm-up by name, (chain, draw, ...), and each chain's count."""
    trace = sampler.inspect()
    if not hasattr(trace, "posterior"):
        return {}, [0] * CHAINS
    energy = trace.sample_stats["energy"].to_numpy()  # blank where a chain is not that far yet
    lengths = np.isfinite(energy).sum(axis=1).tolist()
    return {name: values.to_numpy() for name, values in trace.posterior.data_vars.items()}, lengths


def diagnosed(values: np.ndarray) -> dict[str, float]:
    """Worst R-hat and least effective samples over numbers, shape (chain, draw, number)."""
    import arviz

    worst, bulk, tail = 0.0, np.inf, np.inf
    for place in range(values.shape[2]):
        number = values[:, :, place]
        if np.ptp(number) == 0:
            continue
        rhat = float(arviz.rhat(number))
        worst = rhat if not rhat <= worst else worst
        bulk = min(bulk, float(arviz.ess(number, method="bulk")))
        tail = min(tail, float(arviz.ess(number, method="tail", prob=(0.05, 0.95))))
    return {"numbers": values.shape[2], "rhat": worst, "least_bulk": bulk, "least_tail": tail}
