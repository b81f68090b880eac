"""What to quote an owner: fixed, with a diagnostic fee, in stages, or the price that earns most.

A quote is never below expected cost without saying so.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import product

import numpy as np
from scipy.optimize import minimize_scalar
from scipy.special import expit

from triage.domain.shop.settings import Acceptance, GoRule, Settings
from triage.policy.pricing.bisection import lowest
from triage.policy.pricing.outcome import Outcome
from triage.policy.pricing.valuation import Valuation, lowest_quote
from triage.policy.problem.build import PlanInputs, with_problem
from triage.policy.problem.payoffs import WalkInTerms
from triage.policy.problem.subproblem import settled
from triage.policy.solver.repair_plan import FINISH

# Stages of an estimate: name, and the access level reached by then.
STAGES = (("counter", 0), ("opened", 1), ("board level", 3))
# A stage's range leaves out this share of chance at each end; its maximum leaves out none.
_TAIL = 0.1
# More ways than this for the truth to fall out are not each quoted: the likeliest are.
_MOST_TRUTHS = 12


@dataclass(frozen=True)
class StageQuote:
    """What can be said at one stage of looking.

    low, high : range of the price once this stage is reached, money.
    maximum : highest price it can come to; above it the owner is asked first.
    refusal : chance that by then no price covers it.
    """

    stage: str
    low: float
    high: float
    maximum: float
    refusal: float


@dataclass(frozen=True)
class BestPrice:
    """The price that earns most where owners' answers follow a curve.

    price : money; accepted : chance of a yes; earns : expected margin an enquiry.
    """

    price: float
    accepted: float
    earns: float


def break_even_price(valuation: Valuation, diagnostic_fee: float = 0.0) -> float | None:
    """Fixed price under which the work is expected to cost more than it brings, money.

    None when no price up to `highest_price` brings back the cost.
    """
    idle = valuation.quoted_at(0.0, diagnostic_fee).expected_margin
    return lowest(
        lambda quote: valuation.quoted_at(quote, diagnostic_fee).expected_margin > idle + 1e-6,
        valuation.highest_price,
    )


def kept_to(outcome: Outcome, planned: WalkInTerms, paid: WalkInTerms) -> float:
    """Exact expected margin of a plan made for one price and carried out at another, money."""
    plan = outcome.plan
    finished = plan.ends_in(FINISH)
    grade = plan.plan_space.view.grade[finished]
    change = paid.finish(grade) - planned.finish(grade)  # (state,)
    return outcome.expected_margin + float(plan.reach[finished] @ change)


def staged_estimate(
    inputs: PlanInputs, settings: Settings, rule: GoRule, diagnostic_fee: float = 0.0
) -> tuple[StageQuote, ...]:
    """Price range at each stage, from what that stage will have found out.

    The truth behind every latent fault is laid out; at each stage those that its
    access settles are known and the unit is quoted anew for each way they may be.
    """
    stages = []
    for name, access in STAGES:
        quotes, chances = [], []
        for chance, known in _known_by(inputs, access):
            price = lowest_quote(Valuation(known, settings), rule, diagnostic_fee)
            quotes.append(np.inf if price is None else price)
            chances.append(chance)
        stages.append(_stage(name, np.array(quotes), np.array(chances)))
    return tuple(stages)


def best_price(margin: Callable[[float], float], acceptance: Acceptance, working_price: float) -> BestPrice:
    """Price that maximises chance of a yes times expected margin.

    Parameters
    ----------
    margin : price -> expected margin if it is taken, money; rising in price.

    Notes
    -----
    With a margin of price - c the answer is c + (1 + W(exp(b (m - c) - 1))) / b,
    W being Lambert's function; here the margin may be any rising function, so
    the best point of a grid is polished by a bounded search.
    """

    def accepted(price: float) -> float:
        middle = acceptance.half_say_yes * working_price
        return float(expit(-acceptance.steepness / working_price * (price - middle)))

    def lost(price: float) -> float:
        return -accepted(price) * margin(price)

    grid = np.linspace(0.0, 3.0 * working_price, 121)
    place = int(np.argmin([lost(price) for price in grid]))
    low, high = grid[max(place - 1, 0)], grid[min(place + 1, len(grid) - 1)]
    found = minimize_scalar(lost, bounds=(low, high), method="bounded", options={"xatol": 1e-7})
    price = float(found.x)
    return BestPrice(price, accepted(price), -lost(price))


def _known_by(inputs: PlanInputs, access: int) -> list[tuple[float, PlanInputs]]:
    """Ways the latent faults settled by some access may fall out, with their chances; likeliest first."""
    problem = inputs.problem
    due = [m for m, latent_fault in enumerate(problem.latent_faults) if 0 < latent_fault.access <= access]
    ways = []
    for branches in product(*(range(problem.latent_faults[m].chance.shape[0]) for m in due)):
        chance, known, kept = 1.0, problem, list(range(len(problem.options)))
        # From the last latent fault down, so that the numbers of the others stand.
        for latent_fault, branch in sorted(zip(due, branches, strict=True), reverse=True):
            items = [
                i
                for i, it in enumerate(known.items)
                if it.latent_fault != latent_fault or it.branch == branch
            ]
            kept = [kept[o] for o, option in enumerate(known.options) if set(option.closes) & set(items)]
            share, known = settled(known, latent_fault, branch)
            chance *= share
        ways.append((chance, with_problem(inputs, known, kept)))
    ways.sort(key=lambda way: -way[0])
    ways = ways[:_MOST_TRUTHS]
    total = sum(chance for chance, _ in ways)
    return [(chance / total, known) for chance, known in ways if chance > 0]


def _stage(name: str, quotes: np.ndarray, chances: np.ndarray) -> StageQuote:
    priced = np.isfinite(quotes)
    refusal = float(chances[~priced].sum())
    if not priced.any():
        return StageQuote(name, np.inf, np.inf, np.inf, 1.0)
    order = np.argsort(quotes[priced])
    values, shares = quotes[priced][order], chances[priced][order]
    reached = np.cumsum(shares) / shares.sum()
    low = float(values[np.searchsorted(reached, _TAIL)])
    high = float(values[min(np.searchsorted(reached, 1.0 - _TAIL), len(values) - 1)])
    return StageQuote(name, low, high, float(values[-1]), refusal)
