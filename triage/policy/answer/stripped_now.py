"""A device stripped as it lies, part by part: what each part is worth and whether it is worth its minutes."""

from __future__ import annotations

import numpy as np

from triage.policy.answer.assessment import PartWorth, StrippedNow, Take
from triage.policy.pricing.outcome import Outcome
from triage.policy.problem.payoffs import PurchaseTerms, WalkInTerms
from triage.policy.solver.parts.stripping import LEFT, TESTED, UNTESTED, part_worth

_TAKES: dict[int, Take] = {LEFT: "leave", UNTESTED: "untested", TESTED: "tested"}


def stripped_now(outcome: Outcome, terms: PurchaseTerms[float] | WalkInTerms) -> StrippedNow | None:
    """Parts of the device before anything is done; None where they are valued together, or an owner's.

    Taken out is what is best to take out at this price.
    """
    plan, state = outcome.plan, outcome.state
    problem = plan.plan_space.problem
    if not problem.parts or isinstance(terms, WalkInTerms):
        return None
    known, parts = plan.plan_space.parts, []
    for place, part in enumerate(problem.parts):
        good, proven, level = (float(each[place, state]) for each in (known.good, known.proven, known.level))
        here = (np.array([level]), np.zeros(1, dtype=np.intp))
        whole, untested = (float(each[0, 0]) for each in part_worth(part, here, terms))
        ways: dict[Take, tuple[float, float]] = {
            "untested": (good * untested, part.minutes),
            "tested": (proven * whole + (good - proven) * untested, part.minutes + part.test_minutes),
        }
        worth = {way: money - minutes * problem.rate for way, (money, minutes) in ways.items()}
        best: Take = max(worth, key=lambda way: worth[way])
        take = _TAKES[int(plan.stopping.taken[place, state, 0])]
        way = best if take == "leave" else take
        parts.append(PartWorth(part.key, take, good, part.price * level, worth[way], ways[way][1]))
    total = float(plan.stopping.minutes[state, 0])
    own = sum(each.minutes for each in parts if each.take != "leave")
    return StrippedNow(tuple(parts), total - own, float(plan.stopping.money[state, 0]))
