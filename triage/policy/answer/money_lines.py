"""The expected margin of a plan, line by line, exactly: the lines sum to the margin."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from triage.arrays import Floats
from triage.domain.counts import in_twenty
from triage.domain.durations import bench_time
from triage.policy.answer.assessment import MoneyLine
from triage.policy.pricing.outcome import Outcome
from triage.policy.problem.payoffs import PurchaseTerms, WalkInTerms
from triage.policy.solver.repair_plan import FINISH, STOP, Terms
from triage.policy.solver.state_space import MoveKind
from triage.policy.solver.state_view import StateView

_TAX_WORDS = {
    "none": "",
    "standard": "on the full sale price",
    "second-hand-margin": "second-hand margin scheme: on sale price minus purchase price",
}


@dataclass(frozen=True)
class _Sums:
    """Expected price, fees and tax of one kind of ending, each weighed by its chance."""

    price: float
    fees: float
    tax: float


def prices_by_grade(outcome: Outcome, terms: Terms) -> Floats:
    """Expected price of a finished device with none, one, and more functions left unrepaired, shape (3,)."""
    paths = np.arange(len(outcome.played.margin))
    return np.array(
        [terms.finish_purse(np.full(len(paths), grade), paths).price.mean() for grade in range(3)]
    )


def money_lines(
    outcome: Outcome, terms: PurchaseTerms[float] | WalkInTerms, left: tuple[str, ...] = ()
) -> tuple[MoneyLine, ...]:
    """The margin breakdown: expected income (positive) and costs (negative).

    Parameters
    ----------
    left : names of what takes something off the price because it stays unrepaired.
    """
    plan = outcome.plan
    problem = plan.plan_space.problem
    finished, comebacks, waiting = _finished(outcome, terms)
    whole = plan.chance_finished * float(prices_by_grade(outcome, terms)[0])
    unrepaired = MoneyLine("left unrepaired", finished.price - whole, ", ".join(left))
    stopped = _stopped(outcome, terms)
    parts, extra = _work(outcome)
    labour = plan.expected_minutes * problem.rate
    fees = terms.fees
    entry = outcome.entry_minutes * problem.rate
    done = f"{in_twenty(plan.chance_finished)} end up working"
    if isinstance(terms, PurchaseTerms):
        tax_words = _TAX_WORDS[terms.tax.scheme]
        postage = terms.paid * fees.buyer_fee_share + fees.inbound_postage
        lines = [
            MoneyLine("sale", whole, done),
            unrepaired,
            MoneyLine("sold as parts", stopped.price),
            MoneyLine("purchase price", -terms.paid),
            MoneyLine("buyer's premium and inbound postage", -postage),
        ]
    else:
        # A service is taxed on its whole price, whatever the scheme for sales.
        tax_words = "on the full price"
        lines = [MoneyLine("paid by the owner", whole, f"{done}; no fix, no fee"), unrepaired]
    lines += [
        MoneyLine("parts", -parts),
        MoneyLine("bench time", -(labour + entry), bench_time(outcome.expected_minutes)),
        MoneyLine("consumables", -fees.consumables),
        MoneyLine("selling and payment fees, postage, disposal", -(finished.fees + stopped.fees)),
        MoneyLine("tax", -(finished.tax + stopped.tax), tax_words),
        MoneyLine("accidental damage and faulty new parts", -extra),
        MoneyLine("comebacks", -comebacks),
        MoneyLine("resale value lost while waiting for parts", -waiting),
    ]
    return tuple(line for line in lines if abs(line.amount) > 1e-9)


def _finished(outcome: Outcome, terms: Terms) -> tuple[_Sums, float, float]:
    """Expected money of finishing, of comebacks, and of waiting for parts."""
    plan = outcome.plan
    rows = np.flatnonzero(plan.ends_in(FINISH) & (plan.reach > 0))
    reach, view = plan.reach[rows], _view(outcome, rows)
    paths = np.arange(len(outcome.played.margin))
    by_grade = [terms.finish_purse(np.full(len(paths), grade), paths) for grade in range(3)]
    sums = _Sums(
        *(
            float(reach @ np.array([np.mean(getattr(p, line)) for p in by_grade])[view.grade])
            for line in ("price", "fees", "tax")
        )
    )
    problem = plan.plan_space.problem
    comebacks = [option.comeback for option in problem.options]
    return sums, float(reach @ view.summed(comebacks)), problem.daily_loss * float(reach @ view.wait_days)


def _stopped(outcome: Outcome, terms: Terms) -> _Sums:
    plan = outcome.plan
    rows = np.flatnonzero(plan.ends_in(STOP) & (plan.reach > 0))
    reach, purse = plan.reach[rows], plan.stop_purse(terms)
    return _Sums(*(float(reach @ line[rows]) for line in (purse.price, purse.fees, purse.tax)))


def _work(outcome: Outcome) -> tuple[float, float]:
    """Expected parts money, and money for damage and dead parts, of the moves made."""
    problem = outcome.plan.plan_space.problem
    parts = extra = 0.0
    for move, chance in outcome.plan.made_moves():
        if move.kind is MoveKind.REPAIR:
            option = problem.options[move.subject]
            parts += float(chance @ np.asarray(option.parts))
            extra += float(chance @ np.asarray(option.extra))
        elif move.kind is MoveKind.OPEN:
            extra += float(chance.sum()) * problem.access_extra[move.subject]
    return parts, extra


def _view(outcome: Outcome, rows: np.ndarray) -> StateView:
    plan_space = outcome.plan.plan_space
    return StateView(plan_space.problem, plan_space.space.states[rows])
