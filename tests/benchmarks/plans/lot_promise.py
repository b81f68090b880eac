"""Promised and realised margin of units chosen from lots.

`python -m tests.benchmarks.plans.lot_promise`.

Choosing the best of many exposes optimism: a planner whose estimates are right only on
average promises too much for the units it picks. Two hundred lots of twenty wrecks of the
invented shop's intake are scored and chosen from under cash and bench hours, three times:

`prior-true` : the generator is the planner's own prior: the shipped draws, with
    each kind's chance spread four times as wide on the logit scale, so that large
    errors are possible. For each lot one of these draws is the truth for
    everything: chances, hidden faults, minutes, parts, sale prices. It generates a
    record of attempts at every kind; the planner's draws are weighted by the
    exact likelihood of that record, and the lot is scored on them. The units
    chosen are played by the bench of `tests/policy/simulated_bench.py`
    (no part of the planner) on the true draw. Promised minus realised must be
    zero within 4 standard errors.
`likeliest-draw` : the same lots and records, but the planner uses only the
    draw under which its record is likeliest, as if it were certain. Its excess
    promise is what a correct posterior avoids, so the test can detect optimism.
`shipped` : the shipped posterior in the invented shop's true world, which
    breaks the planner's assumptions (see `plan_on_invented_shop`).

The unit of account is the lot; standard errors are over lots. Run by hand, one arm a run
and `--minutes` at most if time is short (the result says how many lots were played);
results are merged into `results/lot-promise.json`.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import time
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np

from synthetic_cases.truth import load_truth
from tests.benchmarks.plans.invented_world import Wreck, draw_world, wrecks
from tests.benchmarks.plans.true_play import play_plan
from tests.policy.simulated_bench import simulate
from triage.domain.units.lot import Lot, LotRow
from triage.lot_selection.lot_choice import LotChoice, Wanted
from triage.policy.pricing.valuation import Valuation
from triage.policy.problem.build import plan_inputs
from triage.policy.problem.normalise import normalise
from triage.policy.solver.moves import plan_moves
from triage.policy.solver.reduce import set_aside_alike
from triage.prediction.forecast import forecast_unit
from triage.prediction.success import fresh_chances
from triage.workflows.answers.pricing import priced_at, unit_pricing
from triage.workflows.lots.choose import choose_from_lot
from triage.workflows.lots.score import score_lot
from triage.workflows.shop.shop import NODES, Shop, open_shop

RESULTS = Path(__file__).parents[1] / "results" / "lot-promise.json"
TODAY = date(2026, 11, 25)
LOTS, UNITS = 200, 20
DRAWS = 200  # of the prior
WIDER = 4.0
ATTEMPTS = 25  # in the record, at kinds drawn at random: with more, the true draw would be known
WANTED = Wanted(cash=250.0, hours=8.0)
PLAYS = {"prior-true": 400, "likeliest-draw": 400, "shipped": 40}


@dataclass(frozen=True)
class Played:
    """One lot: units taken, promised margin, mean realised margin, and how often it lost."""

    taken: int
    promised: float
    realised: float
    loss_promised: float
    loss_realised: float


def lot_of(some: list[Wreck]) -> Lot:
    """Wrecks as a lot at the prices that the invented shop paid."""
    rows = [LotRow(n + 2, wreck.unit, wreck.asked, "") for n, wreck in enumerate(some)]
    return Lot("invented", tuple(rows))


def at_draws(shop: Shop, places: np.ndarray) -> Shop:
    """The shop as if its posterior held these draws alone, in this order."""
    held = {name: draws.isel(draw=places) for name, draws in shop.posterior.draws.items()}
    return replace(shop, posterior=replace(shop.posterior, draws=held))


def wider(shop: Shop) -> Shop:
    """The shop with a wider posterior of every kind's chance: its draws further from their mean."""
    draws = shop.posterior.draws["success"]
    kinds = draws["kind_logit"]
    mean = kinds.mean("draw")
    spread = draws.assign(kind_logit=mean + WIDER * (kinds - mean))
    held = {**shop.posterior.draws, "success": spread}
    return replace(shop, posterior=replace(shop.posterior, draws=held))


def believed(chances: np.ndarray, truth: int, rng: np.random.Generator, likeliest: bool) -> np.ndarray:
    """Posterior draws given a record simulated from the true one, each as often as its weight.

    Parameters
    ----------
    chances : ndarray, shape (draw, kind), chance of a fresh job.
    """
    kinds = rng.integers(chances.shape[1], size=ATTEMPTS)
    fixed = rng.random(ATTEMPTS) < chances[truth, kinds]
    kept = np.clip(chances[:, kinds], 1e-12, 1 - 1e-12)
    fit = np.where(fixed, np.log(kept), np.log1p(-kept)).sum(axis=1)
    if likeliest:
        return np.array([int(fit.argmax())])
    weight = np.exp(fit - fit.max())
    spread = (np.arange(len(weight)) + rng.random()) / len(weight)
    return np.minimum(np.searchsorted(np.cumsum(weight) / weight.sum(), spread), len(weight) - 1)


def played_on(wreck: Wreck, shop: Shop, truth: Shop, plays: int, seed: tuple[int, int]) -> np.ndarray:
    """Margin of each play of a wreck, planned by one shop, with the truth of another."""
    pricing = unit_pricing(wreck.unit, shop)
    outcome = pricing.valuation.bought_at(wreck.asked)
    unit = normalise(wreck.unit, shop.catalogue)
    told = forecast_unit(
        unit, truth.catalogue, truth.posterior, truth.priors, truth.settings, draws=1, nodes=NODES
    )
    inputs = plan_inputs(unit, told, truth.books_for(unit), owned=True)
    if pricing.set_aside:
        inputs = set_aside_alike(inputs, pricing.inputs)
    terms = Valuation(inputs, truth.settings, outcome.plan.plan_space).purchase_terms(wreck.asked)
    # The act comes from the policy; what comes of it, and what it costs, from the truth.
    space = replace(outcome.plan.plan_space.space, moves=plan_moves(inputs.problem))
    plan = replace(
        outcome.plan, plan_space=replace(outcome.plan.plan_space, problem=inputs.problem, space=space)
    )
    return simulate(replace(outcome, plan=plan), terms, plays, seed)


def in_prior(lots: list[list[Wreck]], shop: Shop, plays: int, likeliest: bool, until: float) -> list[Played]:
    """Every lot in a world drawn from the planner's own draws."""
    stored = min(draws.sizes["draw"] for draws in shop.posterior.draws.values())
    prior = at_draws(wider(shop), np.linspace(0, stored - 1, DRAWS).round().astype(int))
    chances = fresh_chances(prior.posterior.draws["success"], 2)
    told = []
    for number, some in enumerate(lots):
        rng = np.random.default_rng([7, number])
        truth = int(rng.integers(DRAWS))
        world = at_draws(prior, np.array([truth]))
        planner = at_draws(prior, believed(chances, truth, rng, likeliest))
        choice = chosen(some, planner)
        total = np.zeros(plays)
        for place, wreck in enumerate(some):
            if choice.lines[place].taken:
                total += played_on(wreck, planner, world, plays, (number, place))
        told.append(summed(choice, total))
        progress(number, len(lots))
        if time.monotonic() > until:
            break
    return told


def in_invented_world(lots: list[list[Wreck]], shop: Shop, plays: int, until: float) -> list[Played]:
    """Every lot planned by the shipped posterior in the invented shop's true world."""
    truth, told = load_truth(), []
    for number, some in enumerate(lots):
        choice = chosen(some, shop)
        total = np.zeros(plays)
        for line, wreck in zip(choice.lines, some, strict=True):
            if line.taken:
                pricing = unit_pricing(wreck.unit, shop)
                priced = priced_at(pricing, wreck.asked)
                total += play_plan(priced, draw_world(truth, wreck, pricing, plays, number)).margin
        told.append(summed(choice, total))
        progress(number, len(lots))
        if time.monotonic() > until:
            break
    return told


def chosen(some: list[Wreck], shop: Shop) -> LotChoice:
    """The choice from one lot."""
    return choose_from_lot(score_lot(lot_of(some), shop), shop.settings, WANTED)


def summed(choice: LotChoice, total: np.ndarray) -> Played:
    """A lot's promise beside its plays."""
    risk = choice.risk
    lost = float((total < -0.005).mean())
    return Played(len(choice.taken), risk.expected, float(total.mean()), risk.loss_chance, lost)


def summary(played: list[Played], plays: int) -> dict[str, Any]:
    """Promised less realised over lots, and a unit of the chosen ones."""
    gap = np.array([lot.promised - lot.realised for lot in played])
    taken = np.array([lot.taken for lot in played])
    error = float(gap.std(ddof=1) / np.sqrt(len(gap)))
    return {
        "lots": len(played),
        "plays": plays,
        "taken": int(taken.sum()),
        "promised": round(float(np.mean([lot.promised for lot in played])), 2),
        "realised": round(float(np.mean([lot.realised for lot in played])), 2),
        "promised_less_realised": {"mean": round(float(gap.mean()), 2), "standard_error": round(error, 2)},
        "in_standard_errors": round(float(gap.mean() / error), 2),
        "of_the_promise": round(float(gap.sum() / sum(lot.promised for lot in played)), 4),
        "lots_losing_promised": round(float(np.mean([lot.loss_promised for lot in played])), 4),
        "lots_losing_realised": round(float(np.mean([lot.loss_realised for lot in played])), 4),
    }


def progress(number: int, of: int) -> None:
    sys.stderr.write(f"\r{number + 1} of {of} lots")
    sys.stderr.flush()


def main(arguments: list[str] | None = None) -> int:
    """Play the arms asked for and merge them into the result."""
    given = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    given.add_argument("--arm", choices=tuple(PLAYS), action="append")
    given.add_argument("--lots", type=int, default=LOTS)
    given.add_argument("--minutes", type=float, default=60.0, help="of an arm, at most")
    given.add_argument("--seed", type=int, default=20261125)
    given.add_argument("--out", type=Path, default=RESULTS)
    asked = given.parse_args(arguments)
    shop = open_shop(today=TODAY)
    found = wrecks(load_truth(), asked.lots * UNITS, asked.seed)
    lots = [found[n * UNITS : (n + 1) * UNITS] for n in range(asked.lots)]
    result = json.loads(asked.out.read_text()) if asked.out.exists() else {"arms": {}}
    for arm in asked.arm or PLAYS:
        begun = time.monotonic()
        until = begun + 60 * asked.minutes
        if arm == "shipped":
            played = in_invented_world(lots, shop, PLAYS[arm], until)
        else:
            played = in_prior(lots, shop, PLAYS[arm], arm == "likeliest-draw", until)
        told = summary(played, PLAYS[arm]) | {"seconds": round(time.monotonic() - begun)}
        result["arms"][arm] = told
        sys.stdout.write(f"\n{arm}: {json.dumps(told, indent=1)}\n")
    result |= {
        "command": f"python -m tests.benchmarks.plans.lot_promise --lots {asked.lots} --seed {asked.seed}",
        "units_a_lot": UNITS,
        "draws_of_the_prior": DRAWS,
        "attempts_on_record": ATTEMPTS,
        "prior_wider": WIDER,
        "limits": {"cash": WANTED.cash, "hours": WANTED.hours},
        "currency": shop.settings.currency,
    }
    asked.out.parent.mkdir(exist_ok=True)
    temporary = asked.out.with_suffix(".tmp")
    temporary.write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")
    os.replace(temporary, asked.out)
    return 0


if __name__ == "__main__":
    sys.exit(main())
