"""Parts value of a device without any repair: certain where its parts are valued together."""

from __future__ import annotations

import numpy as np

from triage.arrays import Floats
from triage.domain.shop.settings import GoRule, Settings
from triage.policy.pricing.bisection import DIGITS, highest
from triage.policy.pricing.finish_bounds import (
    gain_at_most,
    least_spent,
    minutes_before_work,
    parts_cost_more,
)
from triage.policy.pricing.outcome import ROUNDING
from triage.policy.problem.build import PlanInputs
from triage.policy.problem.payoffs import PurchaseTerms
from triage.policy.solver.repair_plan import stripped_at_once

# A loss is a margin below this: a rounding error is not a loss.
_HALF_A_CENT = 0.005
_ROUNDING = 1e-9


def strip_margin(inputs: PlanInputs, settings: Settings, paid: float) -> float:
    """Expected margin of buying a unit and stripping it at once, money."""
    terms = _terms(inputs, settings, paid)
    if inputs.problem.parts:
        stripped = stripped_at_once(inputs.problem, terms).money[0, 0]
        return float(stripped) - terms.upfront - inputs.entry_minutes * inputs.problem.rate
    return (
        float(terms.stop(np.ones(1), np.zeros(1))[0])
        - terms.upfront
        - strip_minutes(inputs, settings, paid) * inputs.problem.rate
    )


def strip_minutes(inputs: PlanInputs, settings: Settings, paid: float) -> float:
    """Bench minutes of stripping it at once, making it safe included; which parts hangs on the price."""
    minutes = inputs.problem.stop_minutes[0]
    if inputs.problem.parts:
        minutes = float(stripped_at_once(inputs.problem, _terms(inputs, settings, paid)).minutes[0, 0])
    return minutes + inputs.entry_minutes


def _terms(inputs: PlanInputs, settings: Settings, paid: float) -> PurchaseTerms[float]:
    return PurchaseTerms(inputs.sale, inputs.parts_value, paid, settings.fees, settings.tax)


def strip_meets(inputs: PlanInputs, settings: Settings, rule: GoRule, paid: float) -> bool:
    """Whether the go rule holds at a price for a unit that is stripped at once."""
    return not strip_misses(inputs, settings, rule, paid)


def strip_misses(inputs: PlanInputs, settings: Settings, rule: GoRule, paid: float) -> tuple[str, ...]:
    """Which parts of the go rule fail for a unit stripped at once, by name (see `Outcome.misses`)."""
    margin, hours = (
        strip_margin(inputs, settings, paid),
        max(strip_minutes(inputs, settings, paid) / 60.0, 1e-9),
    )
    missed = {
        "margin": margin < rule.margin - ROUNDING,
        "margin_per_hour": margin / hours < rule.margin_per_hour - ROUNDING,
        "losses_in_20": margin < -_HALF_A_CENT and rule.losses_in_20 < 20,
    }
    return tuple(name for name, fails in missed.items() if fails)


def strip_bid(
    inputs: PlanInputs, settings: Settings, rule: GoRule, low: float, high: float, step: float = 0.01
) -> float:
    """Most to pay so that the rule still holds for a unit stripped at once; it holds at `low`, money."""
    more = highest(lambda extra: strip_meets(inputs, settings, rule, low + extra), high - low, step)
    return round(low + (more or 0.0), DIGITS)


def parts_only(inputs: PlanInputs, settings: Settings, terms: PurchaseTerms[Floats] | None = None) -> bool:
    """Whether stripping at once is best whatever is paid, by a bound that needs no plan.

    Finishing is taken at its best: the best grade, no comeback, no wait, nothing
    found later; see `finishing_odds` for what it takes and how likely it is.

    Parameters
    ----------
    terms : those of `parts_terms`, where they are at hand.
    """
    problem = inputs.problem
    if problem.parts:  # the bounds are for parts valued together, and certain
        return False
    # A suspect battery is looked at however a unit comes to be stripped: see `minutes_in_doubt`.
    opened = problem.stop_minutes[1] + minutes_before_work(problem)
    if not parts_cost_more(problem) or opened < problem.stop_minutes[0] - _ROUNDING:
        return False
    least = least_spent(problem)
    if least is None:
        return True
    terms = terms or parts_terms(inputs, settings)
    stripped = terms.stop(np.ones(1), np.zeros(1))[0] - problem.stop_minutes[0] * problem.rate
    return bool((gain_at_most(problem, terms.best_finish - least - stripped) <= 0.0).all())


def parts_terms(inputs: PlanInputs, settings: Settings) -> PurchaseTerms[Floats]:
    """Terms at no price and at one above anything it can fetch.

    As the price rises no plan's tax falls faster than that on stripping while
    the price is below the parts value, and none falls slower once it is above.
    So a plan that beats stripping at any price does at one of these.
    """
    most = 2.0 * (float(inputs.sale.max(initial=0.0)) + inputs.parts_value)
    most += sum(option.recovered for option in inputs.problem.options)
    paid = np.array([0.0, most])
    return PurchaseTerms(inputs.sale, inputs.parts_value, paid, settings.fees, settings.tax)
