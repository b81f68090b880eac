"""The smallest units whose plans once broke a rule, and a dozen ordinary jobs that the table must not forbid.

The expected results were recorded before the table existed; figures are
those of the paper shop (tests/gold/paper_shop.py). Trade rules: common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.gold.paper import paper_forecast
from tests.policy.safety.checker import SafetyCheck
from tests.policy.safety.units import SHOP
from triage.domain.safety.rules import load_rules
from triage.domain.units.unit import CheckResult, Finding, Ownership, Unit
from triage.policy.problem.normalise import normalise, unexplained_symptoms
from triage.policy.solver.repair_plan import FINISH
from triage.workflows.answers.assess import answer_at
from triage.workflows.answers.pricing import priced_at, unit_pricing

CATALOGUE = SHOP.catalogue


def device(*kinds, chance=1.0, **more):
    more.setdefault("working_price", 400.0)
    more.setdefault("ownership", Ownership(proof_recorded=True))
    return Unit("u", "middle", tuple(Finding(kind, chance=chance) for kind in kinds), **more)


def forecast_of(unit, hidden=()):
    unit = normalise(unit, CATALOGUE)
    causes = {}
    for symptom in unexplained_symptoms(unit, CATALOGUE):
        every = CATALOGUE.symptoms[symptom].causes
        causes[symptom] = dict.fromkeys(every, 0.95 / len(every))
    kinds = {f.kind for f in unit.findings} | set(hidden) | {k for found in causes.values() for k in found}
    work = {(k, r.slug): (0.9, 20, 20) for k in kinds for r in CATALOGUE.repairs_for(k)}
    return paper_forecast(unit, CATALOGUE, work, dict.fromkeys(hidden, 0.2), causes)


def answered(unit, hidden=(), walk_in=False, ask=20.0):
    """The answer, after every state of its plan was checked against the table."""
    pricing = unit_pricing(unit, SHOP, walk_in, forecast_of(unit, hidden))
    priced = priced_at(pricing, None if walk_in else ask)
    if not pricing.refused:
        plan, settings = priced.outcome.plan, SHOP.settings
        check = SafetyCheck(unit, CATALOGUE, pricing.inputs, plan, settings, load_rules(), not walk_in)
        assert [str(breach) for breach in check.breaches()] == []
    return answer_at(priced)


def steps(answer):
    return [step.kind for step in answer.steps]


# -- units that broke a rule ----------------------------------------------------


def test_a_device_with_only_a_suspect_battery_is_opened_and_inspected():
    # 400 - open 10 - look 5 - finish 20 - consumables 2 - paid 20 = 343, less 4 in 20 that the cell is bad.
    sure = answered(device(battery="suspect"))
    assert (sure.verdict, sure.expected_margin) == ("take it", pytest.approx(343.0))
    assert steps(sure)[:3] == ["ownership", "open", "battery-look"]
    doubted = answered(device(battery="suspect"), hidden=["cell-bent"])
    assert doubted.verdict == "take it" and doubted.expected_margin < 343.0
    assert steps(doubted)[:4] == ["ownership", "open", "battery-look", "cell-look"]


def test_a_swollen_cell_suspected_half_the_time_is_looked_at_before_it_is_warmed_or_pried():
    unit = device("display-panel-dead", "cell-swollen")
    unit = replace(unit, findings=(unit.findings[0], replace(unit.findings[1], chance=0.5)))
    answer = answered(unit)
    assert answer.verdict == "take it"
    assert steps(answer).index("battery-look") < steps(answer).index("repair")


def test_a_battery_stated_as_bad_stays_bad_after_a_false_suspicion():
    unit = device("cell-swollen", chance=0.5, battery="hazard")
    answer = answered(unit)
    assert steps(answer)[0] == "make-safe"
    assert [step.subject for step in answer.steps if step.kind == "repair"] == ["replace-cell"]


@pytest.mark.parametrize("symptom", ["display-lifting", "hot-when-idle"])
def test_a_lifted_display_or_heat_is_looked_into_before_any_repair(symptom):
    answer = answered(device("display-panel-dead", symptoms=(symptom,)))
    kinds = steps(answer)
    assert kinds.index("battery-look") == kinds.index("open") + 1
    assert kinds.index("battery-look") < min(i for i, kind in enumerate(kinds) if kind in ("repair", "trace"))


def test_heat_explained_by_a_rail_short_is_still_inspected():
    answer = answered(device("main-rail-short", symptoms=("hot-when-idle",)))
    assert "trace" not in steps(answer) and "battery-look" in steps(answer)


def test_a_device_that_was_wet_is_opened_before_it_is_powered_for_the_wipe():
    # Opening finds no residue: 400 - 10 - 20 - 2 - 20 = 348; never powered closed.
    answer = answered(device("housing-scuffed", cause="wet"))
    assert "open" in steps(answer) and answer.verdict == "take it"


def test_known_liquid_is_cleaned_before_a_symptom_is_traced_under_power():
    answer = answered(device("liquid-on-board", symptoms=("no-sound",)))
    kinds = [step.subject or step.kind for step in answer.steps]
    assert kinds.index("clean-board-after-liquid") < kinds.index("no-sound")


def test_a_changed_liquid_mark_means_opening_before_a_powered_repair():
    answer = answered(device("liquid-mark-dry", "paired-part-message"))
    powered = [i for i, step in enumerate(answer.steps) if step.subject == "authorise-paired-part"]
    assert all(steps(answer).index("open") < i for i in powered)


def test_a_charge_fault_with_a_suspect_battery_is_traced_opened_and_looked_at():
    kinds = steps(answered(device(symptoms=("no-charge",), battery="suspect")))
    assert kinds.index("open") < kinds.index("battery-look") < kinds.index("trace")


def test_a_walk_in_with_a_bad_battery_is_never_put_together_around_it():
    answer = answered(device("cell-swollen", "joint-cracked"), walk_in=True)
    assert steps(answer)[0] == "make-safe"
    assert answer.limit is not None


def test_a_battery_already_inspected_as_unsound_is_bad():
    answer = answered(device("back-glass-cracked", readings=(CheckResult("cell-look", True),)))
    assert steps(answer)[0] == "make-safe"
    assert "replace-cell" in [step.subject for step in answer.steps]


@pytest.mark.parametrize("walk_in", [False, True])
def test_a_reacting_battery_is_an_ending_of_its_own(walk_in):
    answer = answered(device("port-dirty", battery="reacting"), walk_in=walk_in)
    assert (answer.verdict, answer.limit, steps(answer)) == ("leave it", None, ["isolate"])
    assert "open nothing" in answer.sentence


def test_no_work_is_shown_for_leave_it_or_check_first():
    unit = device("cell-swollen", "display-panel-dead")
    taken, left = answered(unit), answered(unit, ask=900.0)
    assert (taken.verdict, taken.steps_now) == ("take it", taken.steps)
    assert (left.verdict, left.steps_now) == ("leave it", ())
    assert left.steps and "damaged-cell" in {caution.slug for caution in left.first_cautions}
    doubted = answered(replace(unit, ownership=Ownership(identity="not-checked")))
    assert doubted.verdict == "check first"
    assert [step.kind for step in doubted.steps_now] == ["make-safe", "ownership"]
    assert answered(device("port-dirty", battery="reacting")).steps_now[0].kind == "isolate"


# -- ordinary jobs ----------------------------------------------------------------

SOUND = {"battery": "sound"}
JOBS = {
    "swollen cell swapped": (device("cell-swollen"), {}),
    "boots on a bench supply, battery out": (device("main-rail-short", **SOUND), {}),
    "lint out of a port": (device("port-dirty"), {}),
    "cleaned and dried board": (device("liquid-on-board"), {"hidden": ["liquid-under-shield"]}),
    "short traced on a limited supply": (device(symptoms=("battery-runs-down",)), {}),
    "display swapped, cell sound": (device("display-panel-dead", **SOUND), {}),
    "worn cell swapped": (device("cell-worn"), {}),
    "bent frame, cell seen sound": (device("frame-bent", **SOUND), {}),
    "wet walk-in, data wanted": (device("liquid-on-board", data_wanted=True), {"walk_in": True}),
    "boots with the battery absent": (device("joint-cracked", battery="absent"), {}),
    "cracked back, sold closed": (device("back-glass-cracked"), {}),
    "torn antenna": (device("antenna-flex-torn"), {}),
}


@pytest.mark.parametrize("job", JOBS)
def test_an_ordinary_job_keeps_a_paying_plan(job):
    unit, more = JOBS[job]
    answer = answered(unit, **more)
    assert answer.verdict == "take it", answer.sentence
    assert answer.expected_margin > 25.0 - 0.01 and answer.chance_finished > 0.6


def test_after_a_declined_quote_the_device_is_returned_unchanged():
    # Closed and untouched, whatever its battery: no minutes, no fee.
    pricing = unit_pricing(device("frame-bent"), SHOP, True, forecast_of(device("frame-bent")))
    outcome = pricing.outcome_at(0.0)
    assert outcome.plan.act(0) != FINISH and outcome.expected_minutes == 0.0


@pytest.mark.parametrize("kind", ["port-dirty", "antenna-flex-torn", "cell-worn", "display-panel-dead"])
def test_a_device_without_hazards_is_not_charged_for_an_inspection(kind):
    kinds = steps(answered(device(kind)))
    assert not {"battery-look", "battery-out", "make-safe"} & set(kinds)
