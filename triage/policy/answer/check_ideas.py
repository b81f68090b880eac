"""Checks worth making before a device is bought, as the answer shows them."""

from __future__ import annotations

from triage.domain.catalogue import Catalogue
from triage.policy.answer.assessment import CheckIdea
from triage.policy.pricing.checks_before_buying import BeforeDeciding, EarlyCheck
from triage.policy.problem.problem import PlanProblem

# Below this, money is a rounding error.
_HALF_A_CENT = 0.005


def check_ideas(before: BeforeDeciding, problem: PlanProblem, catalogue: Catalogue) -> tuple[CheckIdea, ...]:
    """Checks from outside that earn more than they cost; the best first act leads."""
    paying = [entry for entry in before.checks if entry.worth > _HALF_A_CENT]
    paying.sort(key=lambda entry: entry.check != before.first)
    return tuple(_idea(entry, problem, catalogue) for entry in paying)


def _idea(entry: EarlyCheck, problem: PlanProblem, catalogue: Catalogue) -> CheckIdea:
    check = problem.checks[entry.check]
    known = catalogue.checks[check.key]
    shown = set(check.reveals)
    return CheckIdea(
        check.key,
        known.name,
        check.minutes,
        entry.worth,
        tuple(item.key for item in problem.items if (item.latent_fault, item.branch) in shown),
        round(20 * entry.changes),
        tuple(catalogue.cautions[slug] for slug in known.cautions),
    )
