"""What stays broken on a device that is finished, why, and what it takes off the price."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from triage.domain.catalogue import Catalogue
from triage.domain.units.unit import Unit
from triage.policy.answer.assessment import Left, WhyLeft
from triage.policy.answer.money_lines import prices_by_grade
from triage.policy.pricing.outcome import Outcome
from triage.policy.problem.build import PlanInputs
from triage.policy.solver.repair_plan import FINISH, Terms
from triage.policy.solver.state_space import MoveKind

_NEVER = 1e-9


def left_unrepaired(
    unit: Unit, catalogue: Catalogue, outcome: Outcome, terms: Terms, whole: PlanInputs
) -> tuple[Left, ...]:
    """Damage that a finished device keeps; none where the plan finishes no device.

    Required damage is never kept: with it open, the plan stops. What a device with several loses is
    split evenly among them, so that the amounts add up to what the margin breakdown takes off.

    Parameters
    ----------
    whole : the plan inputs before anything was set aside.
    """
    if outcome.plan.chance_finished <= _NEVER:
        return ()
    return (*_optional(catalogue, outcome, terms, whole), *_without_a_repair(unit, catalogue))


def _optional(catalogue: Catalogue, outcome: Outcome, terms: Terms, whole: PlanInputs) -> Iterator[Left]:
    plan = outcome.plan
    space, items = plan.plan_space, plan.plan_space.problem.items
    ended = plan.ends_in(FINISH) & (plan.reach > 0)
    reach, grade = plan.reach[ended], space.view.grade[ended]
    optional = np.array([not item.required for item in items], dtype=bool)
    open_ = space.view.open[ended] & optional  # (state, item)
    price = prices_by_grade(outcome, terms)
    share = (price[0] - price[grade]) / np.maximum(open_.sum(axis=1), 1)
    made = {move.subject for move, _ in plan.made_moves() if move.kind is MoveKind.REPAIR}
    for kind in dict.fromkeys(item.key for item in items):
        same = [index for index, item in enumerate(items) if item.key == kind]
        rows = open_[:, same].any(axis=1)
        there = float(reach[rows].sum())
        if there <= _NEVER:
            continue
        closing = {o for o, option in enumerate(space.problem.options) if set(option.closes) & set(same)}
        taken = float(reach[rows] @ share[rows]) / there
        why = _why(kind, closing, made, whole)
        yield Left(kind, catalogue.kinds[kind].name, why, there / float(reach.sum()), taken)


def _why(kind: str, closing: set[int], made: set[int], whole: PlanInputs) -> WhyLeft:
    if closing & made:
        return "some-paths"
    if closing:
        return "not-worth"
    return "too-complex" if any(kind in repair.closes for repair in whole.repairs) else "no-repair"


def _without_a_repair(unit: Unit, catalogue: Catalogue) -> Iterator[Left]:
    """What work cannot undo, such as a bent board; what it takes off the price is in no model."""
    for finding in unit.findings:
        kind = catalogue.kinds[finding.kind]
        if kind.role == "risk" and finding.chance > 0:
            yield Left(kind.slug, kind.name, "no-repair", finding.chance, None)
