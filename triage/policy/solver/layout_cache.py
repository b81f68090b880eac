"""Layouts of plans met before: units of one shape have the same states, whatever their chances and money."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Hashable
from dataclasses import replace
from threading import Lock

import numpy as np

from triage.errors import PlanTooLargeError
from triage.policy.problem.problem import PlanProblem
from triage.policy.solver.moves import turns
from triage.policy.solver.repair_plan import PlanSpace, changed_space, plan_space
from triage.policy.solver.state_space import MAX_STATES, too_large

# States kept at hand, some 250 bytes each; a layout of more than a share of them is not kept,
# for it would push out hundreds of those that come back.
MOST_KEPT, LARGEST_SHARE = 400_000, 0.04


class Layouts:
    """Lays out plans, and keeps the layouts used last.

    Parameters
    ----------
    most : states kept, over all layouts.
    """

    def __init__(self, most: int = MOST_KEPT):
        self._most, self._held = most, 0
        self._known: OrderedDict[Hashable, PlanSpace | None] = OrderedDict()  # None: too large
        self._lock = Lock()

    def plan_space(self, problem: PlanProblem, max_states: int = MAX_STATES) -> PlanSpace:
        """The same as `repair_plan.plan_space`.

        Raises
        ------
        PlanTooLargeError : more than `max_states` states.
        """
        key = (max_states, shape(problem))
        with self._lock:
            met = key in self._known
            known = self._known.get(key)
            if met:
                self._known.move_to_end(key)
        if known is not None:
            return changed_space(known, problem)
        if met:
            raise too_large(max_states)
        try:
            laid = plan_space(problem, max_states)
        except PlanTooLargeError:
            self._keep(key, None)
            raise
        self._keep(key, laid)
        return laid

    def _keep(self, key: Hashable, laid: PlanSpace | None) -> None:
        with self._lock:
            if key in self._known or _size(laid) > LARGEST_SHARE * self._most:
                return
            self._known[key] = laid if laid is None else _bare(laid)
            self._held += _size(laid)
            while self._held > self._most and len(self._known) > 1:
                _, dropped = self._known.popitem(last=False)
                self._held -= _size(dropped)


def shape(problem: PlanProblem) -> Hashable:
    """What decides which states a problem has and what may be done in each.

    Chances and money only as far as repairs that take turns are put in order by them.
    """
    return (
        tuple(
            (item.required, item.hazard, item.spent, item.liquid, item.latent_fault, item.branch)
            for item in problem.items
        ),
        tuple(
            (option.closes, option.access, option.after, option.acts, option.new_battery)
            for option in problem.options
        ),
        tuple(
            (
                len(latent_fault.chance),
                latent_fault.access,
                latent_fault.trace_minutes is None,
                latent_fault.liquid,
            )
            for latent_fault in problem.latent_faults
        ),
        tuple(
            (check.reveals, check.access, check.excludes, check.result, check.acts)
            for check in problem.checks
        ),
        len(problem.access_minutes),
        (problem.owned, problem.safety.battery, problem.safety.liquid, problem.safety.rules),
        turns(problem),
    )


def _bare(laid: PlanSpace) -> PlanSpace:
    """A layout without the chances and the money of the unit it was made for: those take the most room."""
    problem, none = laid.problem, np.zeros(0)
    shorn = replace(
        problem,
        weights=none,
        options=tuple(
            replace(o, chance=none, chance_after=dict.fromkeys(o.chance_after, none)) for o in problem.options
        ),
        latent_faults=tuple(replace(m, chance=np.zeros((len(m.chance), 0))) for m in problem.latent_faults),
        checks=tuple(replace(c, sensitivity=none, specificity=none) for c in problem.checks),
    )
    laid.view.read()
    return laid.under(shorn, replace(laid.space, factors=(), weight=none))


def _size(laid: PlanSpace | None) -> int:
    return 100 if laid is None else len(laid.space.states)
