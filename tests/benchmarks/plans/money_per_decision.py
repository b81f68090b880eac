"""Money per decision: the product against rules that a shop would use, in three invented worlds.

`python -m tests.benchmarks.plans.money_per_decision`.

Every device offered counts, also the declined ones, which earn nothing. The product decides with
the shipped fit, and what it buys is worked by its plan. A rule buys or declines by a figure of
its own; what it buys is worked the way the invented shop's own bench works (`usual_bench`), on
the same damage and luck, settled with the same fees, tax, bench rate and comeback costs.

Rules, each with a dial fixed before any result was seen:

`flat share` : the asking price is at most 30 % of the resale value.
`no board work` : the same, but nothing with visible damage to the main board or by liquid.
`overall rate` : one success rate, that of all attempts on record, for every repair: rate to the
    power of the required repairs, times the resale value, less fees, usual costs and the asking
    price, is at least the margin that the shop's settings ask for.
`gut margin` : asking price plus twice the usual costs (a mark-up of 100 %) is at most the
    resale value.

Usual costs are listed parts, and median minutes (opening, closing, testing included) at the bench
rate. Both are read from the truth, which favours the rules. Each rule is also given the dial that
earned most on the other half of the devices, in the world as believed ("tuned").

Three more rows split the product's lead: `product buys, usual bench` takes its verdicts but not its
plans, `overall rate buys, planned` its plans but not its verdicts; `every device` buys all.

Worlds: `as believed` is the invented shop's truth, from which the shipped fit learned. In
`harder repairs` every fresh-job chance is .7 lower on the logit; in `sales down` finished devices
sell for 20 % less. Neither product nor rules know. Intervals are 90 %, by bootstrap over devices.

Budget: 400 devices, three worlds and 40 plays of each take about 2 minutes on one core. Run by
hand; written to `results/money-per-decision.json`.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from scipy.special import expit, logit

from synthetic_cases.bench import Bench
from synthetic_cases.truth import Truth, load_truth
from tests.benchmarks.plans.decisions import RESULTS, TODAY, buys, mean_with_interval, offered, written
from tests.benchmarks.plans.invented_world import Wreck, draw_world
from tests.benchmarks.plans.true_play import play_plan
from tests.benchmarks.plans.usual_bench import work_as_usual
from triage.errors import PlanTooLargeError
from triage.workflows.answers.pricing import priced_at, unit_pricing
from triage.workflows.shop.shop import Shop, open_shop

COMMAND = "python -m tests.benchmarks.plans.money_per_decision"
BOARD_WORK = ("main-board", "liquid")  # families, as the invented shop shares out its board work
PRODUCT, USUAL, EVERY = "product", "product buys, usual bench", "every device"
BELIEVED = "as believed"
PLANNED = "overall rate buys, planned"
# A rule buys where its figure is at least its dial.
DIALS = {"flat share": -0.30, "no board work": -0.30, "gut margin": 2.0}


def worlds(truth: Truth) -> dict[str, Truth]:
    """The invented shop's truth, and two that break what was learned from it."""
    harder = {
        slug: replace(kind, chance=tuple(float(expit(logit(chance) - 0.7)) for chance in kind.chance))
        for slug, kind in truth.kinds.items()
    }
    cheaper = {
        slug: replace(tier, sale_ratio=tuple(0.8 * ratio for ratio in tier.sale_ratio))
        for slug, tier in truth.tiers.items()
    }
    return {
        BELIEVED: truth,
        "harder repairs": replace(truth, kinds=harder),
        "sales down": replace(truth, tiers=cheaper),
    }


@dataclass(frozen=True)
class Decided:
    """One device: what the product said, the figures of the rules, and what either way of working earns.

    planned, usual : by world, mean margin of the product's plan, and of the usual bench, if bought.
    """

    verdict: str
    bought: bool
    tier: str
    board: bool
    figures: dict[str, float]
    planned: dict[str, float]
    usual: dict[str, float]


def rule_figures(wreck: Wreck, shop: Shop, bench: Bench) -> dict[str, float]:
    """What each rule compares with its dial."""
    settings, price = shop.settings, wreck.unit.working_price
    kinds = shop.catalogue.kinds
    groups: dict[str, list] = {}
    for found in wreck.seen.values():
        if kinds[found.kind].role == "repair":
            groups.setdefault(bench.usual[found.kind], []).append(found)
    parts, minutes = 0.0, settings.minutes.open + settings.minutes.close + settings.minutes.verify
    for method, group in groups.items():
        lead = min(group, key=lambda found: bench.closes(method).index(found.kind))
        parts += bench.book_cost(wreck.person, lead.kind, method)
        minutes += bench.median_minutes(wreck.person, lead, method)
    costs = parts + minutes * settings.bench_rate / 60
    fees, part = settings.fees, settings.tax.rate / (1 + settings.tax.rate)
    kept = price * (1 - fees.selling_share - fees.payment_share) - part * max(price - wreck.asked, 0.0)
    upfront = wreck.asked + fees.inbound_postage + fees.outbound_postage + fees.consumables
    rate = overall_rate(shop) ** sum(bench.needed(group) for group in groups.values())
    share = -wreck.asked / price
    return {
        "flat share": share,
        "no board work": -np.inf if needs_board_work(wreck, shop) else share,
        "overall rate": rate * kept - costs - upfront,
        "gut margin": (price - wreck.asked) / costs,
    }


def overall_rate(shop: Shop) -> float:
    """Share of all attempts on the shop's record that worked."""
    tried, fixed = np.sum(
        [tally for kind in shop.posterior.manifest.attempts.values() for tally in kind], axis=0
    )
    return float(fixed / tried)


def needs_board_work(wreck: Wreck, shop: Shop) -> bool:
    """Whether visible damage calls for board work."""
    kinds = shop.catalogue.kinds
    return any(kinds[kind].role == "repair" and kinds[kind].family in BOARD_WORK for kind in wreck.seen)


def decide(wreck: Wreck, shop: Shop, known: dict[str, Truth], plays: int, seed: int) -> Decided:
    """Decide on one device in every way, and play it in every world on the same luck."""
    pricing = unit_pricing(wreck.unit, shop)
    priced = priced_at(pricing, wreck.asked)
    planned, usual = {}, {}
    for name, truth in known.items():
        world = draw_world(truth, wreck, pricing, plays, seed)
        planned[name] = float(play_plan(priced, world).margin.mean())
        usual[name] = float(work_as_usual(priced, world).margin.mean())
    figures = rule_figures(wreck, shop, Bench(known[BELIEVED], shop.catalogue))
    board = needs_board_work(wreck, shop)
    return Decided(priced.verdict, buys(priced), wreck.unit.tier, board, figures, planned, usual)


def earned(cases: list[Decided], world: str, dials: dict[str, float]) -> dict[str, np.ndarray]:
    """Margin of each device by each way to decide, NaN where it is declined; shape (device,)."""
    planned = np.array([case.planned[world] for case in cases])
    usual = np.array([case.usual[world] for case in cases])
    bought = np.array([case.bought for case in cases])
    practice = np.array([case.usual[BELIEVED] for case in cases])
    found = {PRODUCT: np.where(bought, planned, np.nan)}
    for name, dial in dials.items():
        figure = np.array([case.figures[name] for case in cases])
        found[name] = np.where(figure >= dial, usual, np.nan)
        found[f"{name}, tuned"] = np.where(figure >= tuned(figure, practice), usual, np.nan)
    rated = np.isfinite(found["overall rate"])
    split = {USUAL: np.where(bought, usual, np.nan), PLANNED: np.where(rated, planned, np.nan)}
    return found | split | {EVERY: usual}


def tuned(figure: np.ndarray, margin: np.ndarray) -> np.ndarray:
    """For each device, the dial that earned most on the other half of the devices; shape (device,)."""
    half = np.arange(len(figure)) % 2
    best = np.empty(2)
    for side in (0, 1):
        there = half != side
        order = np.argsort(-figure[there], kind="stable")
        total = np.cumsum(margin[there][order])
        best[side] = figure[there][order][total.argmax()] if total.max(initial=0.0) > 0 else np.inf
    return best[half]


def summary(cases: list[Decided], world: str, dials: dict[str, float]) -> dict[str, Any]:
    """Mean a device offered, and the product's lead on each rule, also among devices of a sort."""
    ways = earned(cases, world, dials)
    money = {name: np.nan_to_num(values) for name, values in ways.items()}
    rows = {}
    for name, values in ways.items():
        rows[name] = {
            "bought": round(float(np.isfinite(values).mean()), 3),
            "a_device_offered": mean_with_interval(money[name]),
            "product_less_this": mean_with_interval(money[PRODUCT] - money[name]),
        }
    sorts = {
        f"tier {tier}": np.array([c.tier == tier for c in cases]) for tier in sorted({c.tier for c in cases})
    }
    board = np.array([case.board for case in cases])
    sorts |= {"board work": board, "no board work": ~board}
    ahead = [
        {"among": sort, "devices": int(there.sum()), "rule": name, "product_less_rule": lead}
        for sort, there in {"all": np.ones(len(cases), bool), **sorts}.items()
        for name in money
        if name in dials or name.removesuffix(", tuned") in dials
        if there.sum() > 1
        if (lead := mean_with_interval((money[PRODUCT] - money[name])[there]))["mean"] < 0
    ]
    return {"rows": rows, "ahead_of_the_product": ahead}


def table(result: dict[str, Any]) -> str:
    """The result in lines to read."""
    lines = []
    for world, told in result["worlds"].items():
        lines.append(f"\n{world}: {result['currency']} a device offered; product less rule, 90 % interval")
        for name, row in told["rows"].items():
            mean, lead = row["a_device_offered"]["mean"], row["product_less_this"]
            lines.append(
                f"  {name:<28}{mean:8.2f}  buys {row['bought']:.2f}  "
                f"{lead['mean']:+7.2f} ({lead['low']:+.2f} to {lead['high']:+.2f})"
            )
        for one in told["ahead_of_the_product"]:
            lead = one["product_less_rule"]
            lines.append(
                f"  ahead among {one['among']} ({one['devices']}): {one['rule']} "
                f"{lead['mean']:+.2f} ({lead['low']:+.2f} to {lead['high']:+.2f})"
            )
    return "\n".join([*lines, ""])


def main(arguments: list[str] | None = None) -> int:
    """Decide on every device and write the result."""
    parser = argparse.ArgumentParser(prog=COMMAND, description=__doc__.splitlines()[0])
    parser.add_argument("--units", type=int, default=400)
    parser.add_argument("--plays", type=int, default=40)
    parser.add_argument("--seed", type=int, default=20261126)
    parser.add_argument("--posterior", type=Path, help="folder of stored draws; the shipped one if not given")
    parser.add_argument("--out", type=Path, default=RESULTS / "money-per-decision.json")
    given = parser.parse_args(arguments)
    begun, truth = time.monotonic(), load_truth()
    shop = open_shop(posterior=given.posterior, today=TODAY)
    known, cases, too_large = worlds(truth), [], 0
    for wreck in offered(truth, given.units, given.seed):
        try:
            cases.append(decide(wreck, shop, known, given.plays, given.seed))
        except PlanTooLargeError:
            too_large += 1
        sys.stderr.write(f"\r{len(cases)} devices")
    dials = {**DIALS, "overall rate": shop.settings.go_rule.margin}
    other = " --posterior DIR" if given.posterior else ""
    result = {
        "command": f"{COMMAND} --units {given.units} --plays {given.plays} --seed {given.seed}{other}",
        "label": "all figures are of the invented shop",
        "fit": shop.posterior.source,
        "currency": shop.settings.currency,
        "devices": len(cases),
        "plays": given.plays,
        "too_large_to_plan": too_large,
        "verdicts": dict(sorted(Counter(str(case.verdict) for case in cases).items())),
        "overall_rate": round(overall_rate(shop), 4),
        "dials": dials,
        "worlds": {name: summary(cases, name, dials) for name in known},
        "seconds": round(time.monotonic() - begun),
    }
    written(result, given.out)
    sys.stdout.write(table(result))
    return 0


if __name__ == "__main__":
    sys.exit(main())
