"""What a small record teaches: 0, 10, 50, 200 and 1,000 jobs of the invented shop.

`python -m tests.benchmarks.plans.small_records`.

For each seed and size a record of the shop is simulated and fitted, from two starts: `stated`, the
assumptions that the invented shop stated for each damage kind, and `default`, those of a shop that
states none. 0 jobs are the assumptions alone. A model whose fit the gate refuses gives way to its
assumptions, as in a shop. Written to `results/small-records.json`, for each start and size:

`width`, `coverage` : of the 90 % credible intervals of the fresh-job chance at severity 2, over
    the kinds that can be repaired; how often they contain the truth.
`brier`, `log_loss` : per attempt, each given the outcomes before it in its job, on jobs that no
    fit saw, the same for all.
`money` : per device offered. The same devices at the same asking prices (`decisions`) are assessed
    with each fit. If the verdict is to buy, the plan is played in the shop's true world on the
    same luck; if not, the device earns 0.

Scores and money have 90 % intervals: bootstrap over seeds, and over jobs or devices. Two seeds
make such an interval too narrow.

Budget: 10 minutes on two idle cores for 2 seeds, 120 devices and 40 plays: 16 fits of half a minute
(each structure is compiled once), and 18 times 120 plans of .1 s. Run by hand. `--page` only
rewrites the table and the picture of `docs/small-records.md` from the stored result.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from synthetic_cases.generate import generate_history
from synthetic_cases.truth import Truth, load_truth
from tests.benchmarks.plans.decisions import RESULTS, TODAY, buys, offered, ratio_with_interval, written
from tests.benchmarks.plans.invented_world import Wreck, draw_world
from tests.benchmarks.plans.small_records_page import write_page
from tests.benchmarks.plans.true_play import play_plan
from triage.design_matrix import attempts
from triage.domain.history import History
from triage.errors import PlanTooLargeError
from triage.inference.sampling import SamplerSettings
from triage.ledger.history.history_csv import parse_history
from triage.posterior.store import Posterior
from triage.prediction.attempt_chances import attempt_chances
from triage.prediction.job_forecasts import job_forecasts
from triage.prediction.success import chances_table
from triage.priors.prior_set import load_priors
from triage.workflows.answers.pricing import priced_at, unit_pricing
from triage.workflows.fitting.fit import belief_only, fit_history
from triage.workflows.shop.shop import Shop, open_shop

COMMAND = "python -m tests.benchmarks.plans.small_records"
RESULT = RESULTS / "small-records.json"
SIZES = (10, 50, 200, 1000)
UNSEEN, UNSEEN_SEED = 400, 99991
LEAST_CHANCE = 1e-12


@dataclass(frozen=True)
class Judged:
    """One fit, judged.

    width, covered : of each kind, shape (kind,). tried : kinds with an attempt on record.
    brier, log_loss : sums over each job that the fit never saw, shape (job,).
    money, bought : of each device offered, shape (device,).
    """

    width: np.ndarray
    covered: np.ndarray
    tried: int
    brier: np.ndarray
    log_loss: np.ndarray
    money: np.ndarray
    bought: np.ndarray
    refused: tuple[str, ...]
    seconds: float


def record_of(truth: Truth, shop: Shop, seed: int, jobs: int) -> History:
    """A record of the invented shop, as read from its file."""
    text = generate_history(truth, seed, jobs).to_csv(index=False)
    return parse_history(text, f"{jobs} jobs", shop.catalogue, truth.as_of)


def widths(posterior: Posterior, shop: Shop, truth: Truth) -> tuple[np.ndarray, np.ndarray, int]:
    """Width of every kind's interval at severity 2, whether it contains the truth, and kinds tried."""
    table = chances_table(posterior, shop.catalogue)
    table = table[(table["severity"] == 2) & table["finding"].isin(list(truth.kinds))]
    true = np.array([truth.kinds[kind].chance[1] for kind in table["finding"]])
    tried = sum(any(n for n, _ in posterior.manifest.attempts[kind]) for kind in table["finding"])
    low, high = table["low"].to_numpy(), table["high"].to_numpy()
    return high - low, (low <= true) & (true <= high), tried


def scores(posterior: Posterior, shop: Shop, unseen: History) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Sums over each unseen job: squared errors, log losses, attempts; shape (job,)."""
    table = attempts(unseen, shop.catalogue)
    by_draw = attempt_chances(posterior.draws["success"], table, shop.catalogue)
    chance = np.clip(job_forecasts(by_draw, table), LEAST_CHANCE, 1 - LEAST_CHANCE)
    fixed = table["fixed"].to_numpy(bool)
    job = np.unique(table["job"], return_inverse=True)[1]
    lost = -np.log(np.where(fixed, chance, 1 - chance))
    return np.bincount(job, (fixed - chance) ** 2), np.bincount(job, lost), np.bincount(job).astype(float)


def decisions(shop: Shop, truth: Truth, devices: list[Wreck], plays: int) -> tuple[np.ndarray, np.ndarray]:
    """Realised mean margin of each device offered, 0 where it is not bought; and whether it is."""
    money, bought = np.zeros(len(devices)), np.zeros(len(devices), bool)
    for place, wreck in enumerate(devices):
        try:
            pricing = unit_pricing(wreck.unit, shop)
            priced = priced_at(pricing, wreck.asked)
        except PlanTooLargeError:
            continue  # no verdict, so it is not bought
        if buys(priced):
            bought[place] = True
            money[place] = play_plan(priced, draw_world(truth, wreck, pricing, plays, 1)).margin.mean()
    return money, bought


def judge(
    posterior: Posterior, shop: Shop, truth: Truth, unseen: History, devices: list[Wreck], plays: int
) -> Judged:
    """Judge one fit; `refused` and `seconds` are filled in by the caller."""
    shop = replace(shop, posterior=posterior)
    brier, log_loss, _ = scores(posterior, shop, unseen)
    return Judged(
        *widths(posterior, shop, truth), brier, log_loss, *decisions(shop, truth, devices, plays), (), 0.0
    )


def fitted(shop: Shop, history: History, seed: int, settings: SamplerSettings, assumed: Posterior):
    """What a shop would use after fitting its record, and the models whose fit was refused."""
    result = fit_history(
        history, shop.catalogue, shop.priors, seed, settings=settings, hopeless_both_ways=False
    )
    usable = not result.posterior.manifest.failed
    return result.posterior if usable else assumed, tuple(result.failures)


def summary(runs: list[Judged], zero: Judged, counts: np.ndarray) -> dict[str, Any]:
    """One size: pooled over its seeds, and compared with no record at all."""
    width = np.array([run.width.mean() for run in runs])
    covered = np.array([run.covered for run in runs])
    money = np.array([run.money for run in runs])
    bought = np.array([run.bought for run in runs])
    each = np.ones(money.shape[1])

    def scored(name: str) -> dict[str, Any]:
        values = np.array([getattr(run, name) for run in runs])
        return {
            **ratio_with_interval(values, counts),
            "less_no_record": ratio_with_interval(values - getattr(zero, name), counts),
        }

    return {
        "fits": len(runs),
        "kinds_tried": round(float(np.mean([run.tried for run in runs])), 1),
        "width": {name: round(float(f(width)), 4) for name, f in _SPREAD.items()},
        "coverage": round(float(covered.mean()), 4),
        "covered_of": [int(covered.sum()), covered.size],
        "brier": scored("brier"),
        "log_loss": scored("log_loss"),
        "money": {
            **ratio_with_interval(money, each),
            "less_no_record": ratio_with_interval(money - zero.money, each),
        },
        "bought": round(float(bought.mean()), 4),
        "decisions_changed": round(float((bought != zero.bought).mean()), 4),
        "refused": [list(run.refused) for run in runs],
        "seconds_a_fit": round(float(np.mean([run.seconds for run in runs])), 1),
    }


_SPREAD = {"mean": np.mean, "low": np.min, "high": np.max}


def main(arguments: list[str] | None = None) -> int:
    """Fit and judge every record, then write the result and the page."""
    parser = argparse.ArgumentParser(prog=COMMAND, description=__doc__.splitlines()[0])
    parser.add_argument("--sizes", type=int, nargs="+", default=SIZES)
    parser.add_argument("--seeds", type=int, default=2)
    parser.add_argument("--first", type=int, default=501)
    parser.add_argument("--units", type=int, default=120)
    parser.add_argument("--plays", type=int, default=40)
    parser.add_argument("--unseen", type=int, default=UNSEEN, help="jobs to score the chances on")
    parser.add_argument("--draws", type=int, default=1000, help="of each of four chains")
    parser.add_argument("--tune", type=int, default=800)
    parser.add_argument("--page", action="store_true", help="only rewrite the page")
    parser.add_argument("--out", type=Path, default=RESULT)
    given = parser.parse_args(arguments)
    if given.page:
        write_page(json.loads(given.out.read_text(encoding="utf-8")))
        return 0
    begun, truth, shop = time.monotonic(), load_truth(), open_shop(today=TODAY)
    devices = offered(truth, given.units, 20261127)
    unseen = record_of(truth, shop, UNSEEN_SEED, given.unseen)
    settings = SamplerSettings(draws=given.draws, tune=given.tune)
    common = (truth, unseen, devices, given.plays)
    priors = {"stated": shop.priors, "default": load_priors(None, shop.catalogue)}
    starts = {}
    for name, assumptions in priors.items():
        begins = replace(shop, priors=assumptions)
        assumed = belief_only(shop.catalogue, assumptions, settings=settings).posterior
        counts = scores(assumed, begins, unseen)[2]
        zero = judge(assumed, begins, *common)
        found: dict[int, list[Judged]] = {0: [zero]}
        for seed in range(given.first, given.first + given.seeds):
            for size in given.sizes:
                start, history = time.monotonic(), record_of(truth, shop, seed, size)
                posterior, refused = fitted(begins, history, seed, settings, assumed)
                seconds = time.monotonic() - start
                run = replace(judge(posterior, begins, *common), refused=refused, seconds=seconds)
                found.setdefault(size, []).append(run)
                sys.stderr.write(
                    f"{name}, seed {seed}, {size} jobs: fit {seconds:.0f} s, refused {list(refused)}, "
                    f"width {run.width.mean():.3f}, money {run.money.mean():.2f}\n"
                )
        starts[name] = {str(size): summary(runs, zero, counts) for size, runs in found.items()}
    result = {
        "command": f"{COMMAND} --seeds {given.seeds} --units {given.units} --plays {given.plays}"
        f" --draws {given.draws} --tune {given.tune}",
        "label": "all figures are of the invented shop",
        "currency": shop.settings.currency,
        "kinds": len(zero.width),
        "unseen_jobs": len(counts),
        "unseen_attempts": int(counts.sum()),
        "devices": given.units,
        "plays": given.plays,
        "starts": starts,
        "seconds": round(time.monotonic() - begun),
    }
    written(result, given.out)
    if given.out == RESULT:
        write_page(result)
    sys.stdout.write(json.dumps(result["starts"], indent=1) + "\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
