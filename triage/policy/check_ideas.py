"""What finding something out before deciding would be worth.

For each thing not yet known, the unit is valued with it settled each way. The
worth is what a perfect look saves on average by changing the decision (to take
or to leave), less the minutes of the check. A real check is a little worse.
"""

from __future__ import annotations

from triage.domain.catalogue import Catalogue, Check
from triage.domain.units import Unit
from triage.policy.assessment import CheckIdea
from triage.policy.intake import cell_suspect, wet
from triage.policy.plan_inputs import PlanInputs
from triage.policy.plan_problem import PlanProblem
from triage.policy.repair_plan import Terms, plan_space, solve_plan
from triage.policy.shrink import settled
from triage.priors.repair_beliefs import RepairBeliefs


def perfect_look(problem: PlanProblem, mystery: int, terms: Terms, outlay: float, now: float) -> float:
    """Money saved on average by knowing a mystery before deciding to take or leave.

    Parameters
    ----------
    outlay : money gone once the unit is taken.
    now : expected margin as things stand.
    """
    informed = 0.0
    for branch in range(problem.mysteries[mystery].chance.shape[0]):
        chance, known = settled(problem, mystery, branch)
        if chance > 0:
            value = solve_plan(plan_space(known), terms).value - outlay
            informed += chance * max(value, 0.0)
    return informed - max(now, 0.0)


def check_ideas(
    inputs: PlanInputs,
    terms: Terms,
    outlay: float,
    now: float,
    catalogue: Catalogue,
    beliefs: RepairBeliefs,
    buying: bool,
    unit: Unit,
) -> tuple[CheckIdea, ...]:
    """Checks worth more than they cost, best first; a seller's unit is only checked closed."""
    problem = inputs.problem
    ideas: dict[str, CheckIdea] = {}
    for index in range(len(problem.mysteries)):
        kinds = [item.key for item in problem.items if item.mystery == index and item.key in catalogue.kinds]
        usable = [check for check in _reveal(catalogue, kinds) if _allowed(check, buying, unit, catalogue)]
        if not usable:
            continue
        saved = perfect_look(problem, index, terms, outlay, now)
        for check in usable:
            minutes = beliefs.check_belief(check.slug).minutes
            worth = saved - minutes * problem.rate
            held = ideas.get(check.slug)
            if worth > 0.005 and (held is None or worth > held.worth):
                ideas[check.slug] = CheckIdea(
                    check.slug,
                    check.name,
                    minutes,
                    worth,
                    tuple(kinds),
                    tuple(catalogue.cautions[slug] for slug in check.cautions),
                )
    return tuple(sorted(ideas.values(), key=lambda idea: -idea.worth))


def _reveal(catalogue: Catalogue, kinds: list[str]) -> list[Check]:
    return [check for check in catalogue.check if set(check.reveals) & set(kinds)]


def _allowed(check: Check, buying: bool, unit: Unit, catalogue: Catalogue) -> bool:
    """A seller's unit stays closed; no power while the cell is suspect or there is liquid."""
    if buying and check.access != "closed":
        return False
    powered = bool({"power", "charge"} & set(check.acts)) and check.access == "closed"
    return not (powered and (cell_suspect(unit, catalogue) or wet(unit, catalogue)))
