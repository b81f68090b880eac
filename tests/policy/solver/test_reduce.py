"""What is left out of a unit too large to plan: any symptoms are answered, never above the true value."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.policy.safety.units import CATALOGUE, SHOP, Case, forecast_for
from triage.domain.units.unit import CheckResult, Finding, Unit
from triage.policy.pricing.valuation import Valuation
from triage.policy.problem.build import plan_inputs
from triage.policy.problem.normalise import normalise
from triage.policy.solver.reduce import IN_TURN, set_aside_alike, small_enough
from triage.policy.solver.repair_plan import plan_space, solve_plan
from triage.workflows.answers.assess import assess

SYMPTOMS = list(CATALOGUE.symptoms)


def device(symptoms, **more):
    return Unit("u", "middle", (Finding("back-glass-cracked"),), tuple(symptoms), working_price=600.0, **more)


def inputs_of(unit, shop=SHOP, seed=1):
    case = Case(unit, True, 20.0, seed)
    unit = normalise(unit, shop.catalogue)
    return plan_inputs(unit, forecast_for(unit, case.seed), shop.books_for(unit), True)


def value(inputs, space):
    valuation = Valuation(inputs, SHOP.settings, space)
    return solve_plan(space, valuation.purchase_terms(20.0)).value


@pytest.mark.parametrize("count", [1, 3, 5, 9, len(SYMPTOMS)])
def test_any_number_of_symptoms_is_planned_and_omissions_are_named(count):
    inputs = inputs_of(device(SYMPTOMS[:count]))
    narrowed, space, names = small_enough(inputs)
    assert len(space.space.states) <= 100_000
    assert bool(names) is (narrowed is not inputs) and (count < 3 or names[0] == IN_TURN)
    for fault in narrowed.problem.latent_faults:
        assert fault.chance.sum(axis=0) == pytest.approx(1.0)
    for item in narrowed.problem.items:
        assert item.latent_fault < 0 or item.branch < len(
            narrowed.problem.latent_faults[item.latent_fault].chance
        )
    # Every repair left closes something, and no cause that is a bad cell or wet is passed over.
    assert all(option.closes for option in narrowed.problem.options)
    dangers = [[i.key for i in p.items if i.hazard or i.liquid] for p in (inputs.problem, narrowed.problem)]
    assert dangers[0] == dangers[1]


def test_forty_symptoms_of_an_own_catalogue_are_planned_too():
    # Forty of a shop's own, each with the causes of a shipped one.
    own = tuple(replace(CATALOGUE.symptom[1], slug=f"own-{n}", name=f"own {n}") for n in range(40))
    shop = replace(SHOP, catalogue=replace(CATALOGUE, symptom=(*CATALOGUE.symptom, *own)))
    unit = device([symptom.slug for symptom in own])
    shares = dict.fromkeys(own[0].causes, 0.15)
    told = replace(forecast_for(device([SYMPTOMS[1]]), 1), causes={symptom.slug: shares for symptom in own})
    answer = assess(unit, shop, ask=1.0, forecast=told)
    (note,) = (note for note in answer.notes if note.startswith("Too complex"))
    assert " causes of symptoms" in note and note.endswith(" symptoms.")
    assert answer.chance_finished == 0.0 and not answer.exact


@pytest.mark.parametrize(
    "symptoms", [("no-picture",), ("no-sound", "no-camera"), ("hot-when-idle", "not-heard")]
)
@pytest.mark.parametrize("seed", [1, 2])
def test_what_is_left_out_never_raises_the_value(symptoms, seed):
    inputs = inputs_of(device(symptoms), seed=seed)
    exact = value(inputs, plan_space(inputs.problem, 400_000))
    before = exact
    for most in (20_000, 5_000, 2_000, 1_000, 500, 200):
        narrowed, space, _ = small_enough(inputs, most)
        found = value(narrowed, space)
        assert found <= before + 1e-9, most
        before = found


def test_a_cause_that_a_check_has_shown_is_not_left_out():
    unit = device(SYMPTOMS[:6], readings=(CheckResult("known-good-display", True),))
    narrowed, _, names = small_enough(inputs_of(unit))
    shown = {pair for check in narrowed.problem.checks if check.result for pair in check.reveals}
    whole = inputs_of(unit).problem
    assert names and shown
    assert len(shown) == len({pair for check in whole.checks if check.result for pair in check.reveals})


def test_the_same_is_left_out_when_the_unit_is_laid_out_with_other_prices():
    inputs = inputs_of(device(SYMPTOMS[:6]))
    narrowed, space, _ = small_enough(inputs)
    again = set_aside_alike(inputs, narrowed)
    assert [item.key for item in again.problem.items] == [item.key for item in narrowed.problem.items]
    assert [repair.slug for repair in again.repairs] == [repair.slug for repair in narrowed.repairs]
    assert value(again, plan_space(again.problem)) == pytest.approx(value(narrowed, space), abs=1e-12)
