"""The facts that the safety rules ask for, read off the digits of plan states.

A function of the digits there are, and of one more where the battery is in
doubt, bad or in the way: as found, looked at, out of the device.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from triage.arrays import Bools, Ints, any_in_row
from triage.domain.safety.facts import BATTERY, LIQUID, Facts
from triage.policy.problem.problem import PlanProblem

if TYPE_CHECKING:
    from triage.policy.solver.state_view import StateView

AS_FOUND, LOOKED, OUT = 0, 1, 2


def bad_branches(problem: PlanProblem) -> list[list[int]]:
    """Branches of each latent fault that are a bad cell."""
    return [
        [item.branch for item in problem.items if item.latent_fault == place and item.hazard]
        for place in range(len(problem.latent_faults))
    ]


def looked_apart(problem: PlanProblem) -> list[bool]:
    """Whether the look at a suspect battery settles a part of a latent fault: is its cause a bad cell.

    A symptom's other causes are still to be traced then; the local state after
    the last branch stands for "not the battery".
    """
    in_doubt = problem.safety.battery == "suspect"
    return [
        in_doubt and bool(bad) and latent_fault.trace_minutes is not None
        for bad, latent_fault in zip(bad_branches(problem), problem.latent_faults, strict=True)
    ]


def wants_battery_out(problem: PlanProblem, acts: frozenset[str]) -> bool:
    """Whether some acts are allowed with a sound battery out of the device and not with it fitted."""
    rules, opened = problem.safety.rules, np.asarray(1)
    fitted, out = (
        Facts(np.asarray(BATTERY.index(word)), np.asarray(0), opened) for word in ("sound", "out-sound")
    )
    return bool(rules.allow(acts, out)) and not bool(rules.allow(acts, fitted))


def tracks_battery(problem: PlanProblem) -> bool:
    """Whether the states carry a digit of their own for the battery."""
    if problem.safety.battery in ("suspect", "bad") or any(item.hazard for item in problem.items):
        return True
    made = [option.acts for option in problem.options] + [check.acts for check in problem.checks]
    return any(wants_battery_out(problem, acts) for acts in made)


def battery_of(view: StateView) -> Ints:
    """The battery in each state, a place in `BATTERY`, shape (state,)."""
    problem, count = view.problem, len(view.states)
    start = problem.safety.battery
    looked, out = view.battery_digit >= LOOKED, view.battery_digit == OUT
    new = any_in_row(view.fixed[:, [option.new_battery for option in problem.options]])
    bad = any_in_row(view.open[:, [item.hazard for item in problem.items]]) | (start == "bad")
    spent = any_in_row(view.open[:, [item.spent for item in problem.items]])
    doubted = any_in_row(~view.battery_known) & (start in ("suspect", "no-sign"))
    suspect = doubted | ~looked if start == "suspect" else doubted
    always = np.ones(count, dtype=bool)
    cases: list[tuple[Bools, str]] = [
        (always & (start == "reacting"), "reacting"),
        (new & out, "waiting"),
        (new, "replaced"),
        (always & (start == "absent"), "absent"),
        (out & bad, "out-safe"),
        (out, "out-sound"),
        (bad, "bad"),
        (suspect, "suspect"),
        (spent, "worn"),
        ((view.access == 0) & (start == "no-sign"), "no-sign"),
    ]
    words = [np.full(count, BATTERY.index(word)) for _, word in cases]
    return np.select([mask for mask, _ in cases], words, BATTERY.index("sound")).astype(np.intp)


def liquid_of(view: StateView) -> Ints:
    """Liquid in each state, a place in `LIQUID`, shape (state,): what is known to be there is wet."""
    problem = view.problem
    liquid = [item.liquid for item in problem.items]
    wet = any_in_row(view.open[:, liquid])
    unsettled = any_in_row(~view.known[:, [m.liquid for m in problem.latent_faults]])
    # A mark, or having been wet, is cleared by opening the device and finding no residue.
    damp = unsettled | ((view.access == 0) & (problem.safety.liquid != "none"))
    cleaning = [any(liquid[item] for item in option.closes) for option in problem.options]
    dried = any_in_row(view.fixed[:, cleaning])
    words = [np.full(len(wet), LIQUID.index(word)) for word in ("wet", "may-be-wet", "dried")]
    return np.select([wet, damp, dried], words, LIQUID.index("none")).astype(np.intp)
