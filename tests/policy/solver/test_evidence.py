"""The number of joint truths of latent faults that share checks is limited before they are enumerated."""

from __future__ import annotations

import numpy as np
import pytest

from triage.errors import PlanTooLargeError
from triage.policy.problem.problem import LatentFault, PlanCheck, PlanProblem
from triage.policy.solver.evidence import MOST_CELLS, knowledge_factors


def tied(symptoms, causes=13, scenarios=50):
    chance = np.full((causes, scenarios), 1.0 / causes)
    faults = tuple(LatentFault(f"symptom {n}", chance, 1, trace_minutes=20.0) for n in range(symptoms))
    half = np.full(scenarios, 0.5)
    check = PlanCheck("reading", tuple((n, 0) for n in range(symptoms)), half, half, 5.0)
    weights = np.full(scenarios, 1.0 / scenarios)
    return PlanProblem((), (), faults, weights, 1.0, checks=(check,))


def test_a_few_symptoms_sharing_a_check_are_enumerated_jointly():
    (factor,) = knowledge_factors(tied(3))
    assert factor.truths.shape == (13**3, 3)
    assert factor.chance.sum(axis=0) == pytest.approx(1.0)


@pytest.mark.parametrize("symptoms", [6, 14])
def test_too_many_are_refused_before_any_enumeration(symptoms):
    assert 2 * 50 * 13**symptoms > MOST_CELLS
    with pytest.raises(PlanTooLargeError, match="too many possible causes"):
        knowledge_factors(tied(symptoms))
