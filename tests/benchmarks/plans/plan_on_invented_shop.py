"""Promised and realised margin in the invented shop.

`python -m tests.benchmarks.plans.plan_on_invented_shop`.

Wrecks come from the invented shop's intake, at the price that shop paid. The product
assesses each with the shipped priors, prices, settings and posterior. Then its plan is
simulated many times in the shop's true world, which the planner does not know and which
breaks its assumptions. Written to `results/plan-on-invented-shop.json`: promised and
realised margin, losses and minutes, and the effect of each broken assumption on the margin,
in two ways: the assumption holds while all else is true ("alone"); or all assumptions hold
first and are broken one after another ("in turn"; these sum to the whole gap). Every run
has the same luck. Run by hand.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections import Counter
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np

from synthetic_cases.truth import Truth, load_truth
from tests.benchmarks.plans.invented_world import Wreck, draw_world, wrecks
from tests.benchmarks.plans.true_play import play_plan
from tests.benchmarks.plans.true_settlement import DEPARTURES, TruePlays
from triage.errors import PlanTooLargeError
from triage.policy.answer.verdict import PARTS, TAKE
from triage.workflows.answers.pricing import priced_at, unit_pricing
from triage.workflows.shop.shop import Shop, open_shop

RESULTS = Path(__file__).parents[1] / "results" / "plan-on-invented-shop.json"
COMMAND = "python -m tests.benchmarks.plans.plan_on_invented_shop"
TODAY = date(2026, 11, 25)
LOSS = -0.005
BANDS = 5

RULES = (
    "The plan: the act that the solved policy has for the state reached; checks read as accurately as the "
    "plan takes them to, since the invented truth says nothing of checks; opening, closing, testing and "
    "stripping take the settings' minutes.",
    "Damage the plan's states do not know (a hidden fault nothing seen points to, a breakage, a find at the "
    "final test) waits for a repair of the plan that closes it too, if one is still to come. Otherwise it is "
    "repaired once, by its usual method and its true chance, if the bench rate for its median minutes and "
    "further opening plus the listed parts is less than its fresh-job chance times what is at stake: for "
    "damage a working unit needs closed, the plan's value in the state reached less what stopping there "
    "brings; for the rest, what one more lost function takes off the sale. Needed damage that is not "
    "repaired stops the job; other damage lowers the grade.",
    "A repair that looks hopeless, or whose part cannot be had, is not made: the job stops if a working unit "
    "needs it, else the plan goes on as after a failure.",
    "Breakages and late finds as in the invented shop: only in a unit that was opened, and not where the "
    "work already done would have closed them.",
    "Money: purchase, postage, fees, tax, consumables, labour and value lost per month by the settings, with "
    "the true days to sell; days for parts from the price book's least, usual and most. Returns within the "
    "settings' warranty that are the shop's doing cost the settings' mix of refund and rework, rework being "
    "the minutes and parts of the play's own attempts.",
    "Left out: that an owner says no (all units are bought), and that the invented shop thinks a part too "
    "dear (the plan decides that).",
)


@dataclass(frozen=True)
class Case:
    """One wreck, assessed and played."""

    verdict: str
    promised: float
    losses: float
    minutes: float
    finished: float
    true: TruePlays
    alone: dict[str, float]
    in_turn: tuple[float, ...]


def play_case(truth: Truth, wreck: Wreck, shop: Shop, plays: int, seed: int) -> Case:
    """Assess one wreck, then play its plan with all departures, without each, and adding them in turn."""
    pricing = unit_pricing(wreck.unit, shop)
    priced = priced_at(pricing, wreck.asked)
    world = draw_world(truth, wreck, pricing, plays, seed)
    names = list(DEPARTURES)

    def mean(as_planned: list[str]) -> float:
        return float(play_plan(priced, world, frozenset(as_planned)).margin.mean())

    true = play_plan(priced, world)
    outcome = priced.outcome
    return Case(
        verdict=priced.decision.verdict,
        promised=outcome.expected_margin,
        losses=outcome.losses_in_20 / 20,
        minutes=outcome.expected_minutes,
        finished=outcome.plan.chance_finished,
        true=true,
        alone={name: float(true.margin.mean()) - mean([name]) for name in names},
        in_turn=(*(mean(names[made:]) for made in range(len(names))), float(true.margin.mean())),
    )


def summary(cases: list[Case]) -> dict[str, Any]:
    """Promised and realised margin over some units; standard errors are over units."""
    promised = np.array([case.promised for case in cases])
    realised = np.array([case.true.margin.mean() for case in cases])
    lost = np.array([(case.true.margin < LOSS).mean() for case in cases])
    turns = np.array([case.in_turn for case in cases])  # (unit, departures made true)
    steps = np.diff(turns, axis=1)
    causes = {}
    for place, (name, words) in enumerate(DEPARTURES.items()):
        alone = np.array([case.alone[name] for case in cases])
        causes[name] = {
            "what": words,
            "in_turn": _mean_and_error(steps[:, place]),
            "alone": _mean_and_error(alone),
        }
    return {
        "units": len(cases),
        "margin_promised": round(float(promised.mean()), 2),
        "margin_realised": round(float(realised.mean()), 2),
        "gap": _mean_and_error(realised - promised),
        "losses_promised": round(float(np.mean([case.losses for case in cases])), 3),
        "losses_realised": round(float(lost.mean()), 3),
        "minutes_promised": round(float(np.mean([case.minutes for case in cases])), 1),
        "minutes_realised": round(float(np.mean([case.true.minutes.mean() for case in cases])), 1),
        "finished_promised": round(float(np.mean([case.finished for case in cases])), 3),
        "finished_realised": round(float(np.mean([case.true.finished.mean() for case in cases])), 3),
        "all_as_planned_less_promised": _mean_and_error(turns[:, 0] - promised),
        "causes": causes,
    }


def bands(cases: list[Case]) -> list[dict[str, float]]:
    """Promised and realised margin in equal groups of units, by promised margin."""
    ranked = sorted(cases, key=lambda case: case.promised)
    groups = [part for part in np.array_split(np.arange(len(ranked)), BANDS) if len(part)]
    return [
        {
            "units": len(part),
            "margin_promised": round(float(np.mean([ranked[i].promised for i in part])), 2),
            "margin_realised": round(float(np.mean([ranked[i].true.margin.mean() for i in part])), 2),
        }
        for part in groups
    ]


def _mean_and_error(values: np.ndarray) -> dict[str, float]:
    error = values.std(ddof=1) / np.sqrt(len(values)) if len(values) > 1 else float("nan")
    return {"mean": round(float(values.mean()), 2), "standard_error": round(float(error), 2)}


def table(result: dict[str, Any]) -> str:
    """The result in lines to read."""
    groups = {name: group for name, group in result["groups"].items() if group}
    believed = ", ".join(result["posterior"]["belief_only"]) or "none"
    lines = [f"draws: {result['posterior']['source']}; models on belief only: {believed}", ""]
    lines.append(" " * 30 + "".join(f"{name:>26}" for name in groups))
    for row in ("units", "margin", "gap", "losses", "minutes", "finished"):
        cells = "".join(f"{_cell(group, row):>26}" for group in groups.values())
        lines.append(f"{row + _HEADS.get(row, ''):<30}{cells}")
    lines += ["", "gap by cause, in turn / alone (money a unit)"]
    for name in DEPARTURES:
        cells = "".join(f"{_cause(group['causes'][name]):>26}" for group in groups.values())
        lines.append(f"{name:<30}{cells}")
    lines += ["", "by what was promised:"]
    lines += [
        f"{b['units']:>6} units: {b['margin_promised']:8.1f} -> {b['margin_realised']:8.1f}"
        for b in result["bands"]
    ]
    return "\n".join([*lines, ""])


_HEADS = {name: ", promised -> realised" for name in ("margin", "losses", "minutes", "finished")}


def _cell(group: dict[str, Any], row: str) -> str:
    if row == "units":
        return str(group["units"])
    if row == "gap":
        return f"{group['gap']['mean']:+.2f} (se {group['gap']['standard_error']:.2f})"
    return f"{group[row + '_promised']} -> {group[row + '_realised']}"


def _cause(entry: dict[str, Any]) -> str:
    return f"{entry['in_turn']['mean']:+.2f} / {entry['alone']['mean']:+.2f}"


def main(arguments: list[str] | None = None) -> int:
    """Play every wreck and write the result."""
    parser = argparse.ArgumentParser(prog=COMMAND, description=__doc__)
    parser.add_argument("--units", type=int, default=800)
    parser.add_argument("--plays", type=int, default=60)
    parser.add_argument("--seed", type=int, default=20261125)
    parser.add_argument("--posterior", type=Path, help="folder of stored draws; the shipped one if not given")
    parser.add_argument("--out", type=Path, default=RESULTS)
    given = parser.parse_args(arguments)
    truth, shop = load_truth(), open_shop(posterior=given.posterior, today=TODAY)
    cases, too_large = [], 0
    for wreck in wrecks(truth, given.units, given.seed):
        try:
            cases.append(play_case(truth, wreck, shop, given.plays, given.seed))
        except PlanTooLargeError:
            too_large += 1
        sys.stderr.write(f"\r{len(cases)} units")
    taken = [case for case in cases if case.verdict in (TAKE, PARTS)]
    named = {
        "all": cases,
        f"{TAKE} / {PARTS}": taken,
        TAKE: [case for case in cases if case.verdict == TAKE],
    }
    manifest = shop.posterior.manifest
    other = " --posterior DIR" if given.posterior else ""
    result = {
        "command": f"{COMMAND} --units {given.units} --plays {given.plays} --seed {given.seed}{other}",
        "posterior": {
            "source": shop.posterior.source,
            "belief_only": list(manifest.belief_only),
            "draws": manifest.folder,
            "jobs": manifest.jobs,
        },
        "currency": shop.settings.currency,
        "plays": given.plays,
        "too_large_to_plan": too_large,
        "verdicts": dict(sorted(Counter(case.verdict for case in cases).items())),
        "groups": {name: summary(group) if group else None for name, group in named.items()},
        "bands": bands(cases),
        "rules": list(RULES),
    }
    given.out.parent.mkdir(exist_ok=True)
    temporary = given.out.with_suffix(".tmp")
    temporary.write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")
    os.replace(temporary, given.out)
    sys.stderr.write("\n")
    sys.stdout.write(table(result))
    return 0


if __name__ == "__main__":
    sys.exit(main())
