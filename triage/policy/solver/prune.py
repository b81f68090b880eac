"""Leaves out the states of a plan that no price of the unit makes worth passing through.

As the price rises no plan's tax falls faster than that on stripping while the
price is below what its parts fetch, and none falls slower once it is above. So
what a plan earns over stripping in a state is greatest at one of two prices, at
nothing or at more than the unit can ever fetch (`stripping.parts_terms`): where
stripping is best at both, it is best at every price, and nothing that would
follow has to be looked at again.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np

from triage.arrays import Bools
from triage.policy.solver.backward_induction import Policies
from triage.policy.solver.repair_plan import FINISH, STOP, PlanSpace
from triage.policy.solver.state_space import MoveKind
from triage.policy.solver.state_view import ACCESS_DIGIT, StateView


def narrowed(plan: PlanSpace, both: Policies) -> PlanSpace:
    """The states that the best plan at some price may pass through, and those after checks from outside.

    Parameters
    ----------
    both : the best plans at the two prices of `stripping.parts_terms`.

    Returns
    -------
    PlanSpace : cannot be laid under other chances, money or minutes.
    """
    space, acts = plan.space, plan.space.acts
    stop = len(space.moves) + (FINISH, STOP).index(STOP)
    going = (both.choice != stop).any(axis=1)
    outside = _from_outside(plan)
    kept = np.zeros(len(acts.move), dtype=bool)
    met = np.zeros(len(space.states) + 1, dtype=bool)
    only_checked = np.zeros_like(met)
    met[0] = only_checked[0] = True
    for layer in acts.layers:
        parents, children = acts.parents[layer.acts], acts.children[:, layer.acts]
        early = outside[layer.acts] & only_checked[parents]
        keep = met[parents] & going[parents] | early
        kept[layer.acts] = keep
        met[children[:, keep]] = True
        only_checked[children[:, early]] = True
    on = met[:-1]
    before = np.concatenate([[0], np.cumsum(on)])
    layers = tuple(slice(*pair) for pair in pairwise(before[[0, *(layer.stop for layer in space.layers)]]))
    states = np.asfortranarray(space.states[on])
    return PlanSpace(
        plan.problem,
        replace(
            space,
            states=states,
            layers=layers,
            acts=acts.only(kept, on, layers),
            weight=space.weight[on],
            view=StateView(plan.problem, states),
            weigher=None,
        ),
    )


def _from_outside(plan: PlanSpace) -> Bools:
    """Whether each act is a check that can be made before the unit is taken, shape (act,)."""
    space, problem = plan.space, plan.problem
    of_move = np.array(
        [move.kind is MoveKind.CHECK and problem.checks[move.subject].access == 0 for move in space.moves],
        dtype=bool,
    )
    closed: Bools = space.states[space.acts.parents, ACCESS_DIGIT] == 0
    return of_move[space.acts.move] & closed
