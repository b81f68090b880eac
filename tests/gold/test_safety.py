"""Safety and ownership override money: every damage kind, and random combinations of them."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.gold.paper import paper_forecast
from tests.gold.paper_shop import paper_shop
from tests.policy.safety.checker import SafetyCheck
from tests.tiers import holds_for, one_in
from triage.domain.catalogue import load_catalogue
from triage.domain.safety.rules import load_rules
from triage.domain.units.unit import Finding, Ownership, Unit
from triage.policy.pricing.valuation import Valuation
from triage.policy.problem.build import plan_inputs
from triage.policy.problem.normalise import cell_hazard, cell_suspect, normalise, wet
from triage.policy.solver.reduce import small_enough
from triage.policy.solver.repair_plan import STOP
from triage.workflows.answers.assess import assess

CATALOGUE = load_catalogue()
SHOP = paper_shop(checks=tuple(CATALOGUE.checks))
# A shop where every repair pays, so that plans have their full length.
RICH = replace(SHOP, settings=replace(SHOP.settings, bench_rate=1.0))
HAZARDS = [kind.slug for kind in CATALOGUE.kind if kind.battery == "hazard"]
KINDS = [kind.slug for kind in CATALOGUE.kind if kind.role != "stop"]


def forecast_for(unit):
    keys = {f.kind for f in unit.findings}
    hidden = {k: 0.2 for f in unit.findings for k in CATALOGUE.kinds[f.kind].raises if k not in keys}
    if cell_suspect(unit, CATALOGUE):
        hidden.setdefault("cell-bent", 0.2)
    work = {}
    for kind in keys | set(hidden):
        for repair in CATALOGUE.repairs_for(kind):
            work[kind, repair.slug] = (0.95, 20, 20)
    return paper_forecast(unit, CATALOGUE, work, hidden)


def planned(unit, owned=True):
    unit = normalise(replace(unit, working_price=3000.0), CATALOGUE)
    forecast = forecast_for(unit)
    inputs, space, _ = small_enough(plan_inputs(unit, forecast, RICH.books_for(unit), owned), 30_000)
    valuation = Valuation(inputs, RICH.settings, space)
    outcome = valuation.bought_at(1.0) if owned else valuation.quoted_at(3000.0)
    return unit, forecast, inputs, outcome


def assert_no_rule_is_broken(unit, inputs, outcome, owned):
    """Check every state that the plan can reach, not only the main path."""
    check = SafetyCheck(unit, CATALOGUE, inputs, outcome.plan, RICH.settings, load_rules(), owned)
    assert [str(breach) for breach in check.breaches()] == []


@pytest.mark.parametrize(("owned", "kind"), one_in(15, product([True, False], KINDS)))
def test_every_kind_beside_a_hazardous_cell(kind, owned):
    unit = Unit("u", "middle", (Finding(kind), Finding("cell-swollen")))
    unit, forecast, inputs, outcome = planned(unit, owned)
    assert_no_rule_is_broken(unit, inputs, outcome, owned)
    answered = assess(unit, RICH, 1.0 if owned else None, not owned, forecast)
    assert answered.steps[0].kind == "make-safe"
    assert {"damaged-cell", "cell-fire", "cell-fume", "cell-transport"} <= {
        c.slug for c in answered.steps[0].cautions
    }
    repairs = [step for step in answered.steps if step.kind == "repair"]
    assert not repairs or repairs[0].subject == "replace-cell"
    assert "damaged-cell" in {c.slug for c in answered.first_cautions}


@pytest.mark.slow
@settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(
    st.lists(st.sampled_from(KINDS), min_size=1, max_size=4, unique=True),
    st.lists(st.sampled_from([0.3, 1.0]), min_size=4, max_size=4),
    st.sampled_from(["sound", "not-seen", "suspect", "hazard"]),
    st.booleans(),
)
def test_random_units_keep_the_order_of_work(kinds, chances, battery, owned):
    findings = tuple(Finding(k, chance=c) for k, c in zip(kinds, chances, strict=False))
    unit, forecast, inputs, outcome = planned(
        Unit("u", "middle", findings, battery=battery, data_wanted=True), owned
    )
    assert_no_rule_is_broken(unit, inputs, outcome, owned)
    answered = assess(unit, RICH, 1.0 if owned else None, not owned, forecast)
    steps = [step.kind for step in answered.steps]
    if cell_hazard(unit, CATALOGUE):
        assert steps[0] == "make-safe"
    elif cell_suspect(unit, CATALOGUE) and "open" in steps:
        opening = answered.steps[steps.index("open")]
        assert "damaged-cell" in {c.slug for c in opening.cautions}
    done = [CATALOGUE.repairs[s.subject] for s in answered.steps if s.kind == "repair"]
    if any(r.board_heat for r in done):
        hot = next(r for r in done if r.board_heat).slug
        assert steps.index("save-data") < [step.subject for step in answered.steps].index(hot)
        if cell_suspect(unit, CATALOGUE) or wet(unit, CATALOGUE):
            assert steps.index("save-data") > steps.index("open"), "powered before anybody looked"
    if any(r.irreversible for r in done) and any(
        not line.on_hand for s in answered.steps if s.kind == "repair" for line in s.parts
    ):
        assert steps.index("parts-in-hand") < steps.index("repair")
    for earlier, later in zip(done, done[1:], strict=False):
        assert later.slug not in earlier.after, f"{later.slug} must come before {earlier.slug}"
    if "seal" in steps:
        order = [steps.index(s) for s in ("dry-fit", "close", "seal", "repeat-checks", "verify")]
        assert order == sorted(order) and order[0] > max(
            (i for i, s in enumerate(steps) if s == "repair"), default=-1
        )
    if wet(unit, CATALOGUE) and "open" in steps:
        assert "liquid-no-power" in {c.slug for c in answered.steps[steps.index("open")].cautions}
    if cell_suspect(unit, CATALOGUE) or wet(unit, CATALOGUE):
        assert "usb-draw-reading" not in {idea.check for idea in answered.checks}
    if outcome.plan.act(0) != STOP:
        assert steps[-1] in ("sell", "hand-back", "strip", "return-unfixed")


@pytest.mark.parametrize("battery, suspect", [("not-seen", True), ("suspect", True), ("sound", False)])
def test_a_lifted_display_makes_the_cell_suspect_until_it_was_seen(battery, suspect):
    # Common practice, no source: a swollen cell lifts the display; who has looked at the cell knows better.
    unit = Unit("u", "middle", (), symptoms=("display-lifting",), battery=battery)
    assert cell_suspect(unit, CATALOGUE) is suspect


@holds_for(
    st.sampled_from(["clear", "locked-to-owner", "locked-to-another", "cannot-tell"]),
    st.sampled_from(["agrees", "mismatch", "cannot-read", "not-checked"]),
    st.booleans(),
    st.booleans(),
    st.sampled_from([None, "account-locked", "identity-mismatch"]),
    st.floats(0, 500),
    st.sampled_from(["", "owner-in-person", "trade-seller", "auction", "unknown"]),
    few=25,
    many=80,
)
def test_ownership_overrides_money(lock, identity, listed, walk_in, stop, ask, source):
    findings = (Finding("antenna-flex-torn"), *((Finding(stop),) if stop else ()))
    held = Ownership(lock, identity, listed, source=source)
    unit = normalise(
        Unit("u", "middle", findings, ownership=held, working_price=3000.0),
        CATALOGUE,
    )
    answered = assess(unit, RICH, None if walk_in else ask, walk_in, forecast_for(unit))
    mine_locked = walk_in and lock == "locked-to-owner" and stop == "account-locked"
    refused = listed or identity == "mismatch" or lock == "locked-to-another" or (stop and not mine_locked)
    if refused or (not walk_in and lock == "locked-to-owner"):
        assert (answered.verdict, answered.limit, answered.steps) == ("leave it", None, ())
    elif not walk_in and (lock == "cannot-tell" or identity != "agrees"):
        # What can be settled before paying is; a number that cannot be read is open, and no mismatch.
        assert (answered.verdict == "check first") == (source != "auction")
        clear = assess(replace(unit, ownership=Ownership()), RICH, ask, False, forecast_for(unit))
        assert answered.limit is None or answered.limit <= clear.limit
        assert source == "auction" or {step.kind for step in answered.steps_now} <= {"make-safe", "ownership"}
        assert answered.steps[0].kind == "ownership" and answered.steps[0].minutes > 0
    assert "ownership-first" in {c.slug for c in answered.first_cautions}


def test_data_of_a_wet_device_are_saved_after_it_was_opened_and_before_heat():
    unit, forecast, _, _ = planned(
        Unit(
            "wet", "middle", (Finding("port-pins-damaged"),), cause="wet", battery="sound", data_wanted=True
        ),
        False,
    )
    steps = assess(unit, RICH, None, True, forecast).steps
    heat = next(
        number for number, step in enumerate(steps)
        if step.kind == "repair" and CATALOGUE.repairs[step.subject].board_heat
    )  # fmt: skip
    kinds = [step.kind for step in steps]
    assert kinds.index("open") < kinds.index("save-data") < heat


@pytest.mark.parametrize("battery", ["sound", "suspect"])
def test_a_branch_that_heats_the_board_saves_the_data_first(battery):
    """The likely way replaces a part; only where that fails is the board heated."""
    findings = (Finding("port-dirty"), Finding("joint-cracked", chance=0.2))
    unit, forecast, _, _ = planned(Unit("u", "middle", findings, battery=battery, data_wanted=True), False)
    steps = assess(unit, RICH, None, True, forecast).steps

    def hot(step):
        return step.kind == "repair" and CATALOGUE.repairs[step.subject].board_heat

    heated = [
        (number, branch.steps, place)
        for number, step in enumerate(steps)
        for branch in step.branches
        for place, act in enumerate(branch.steps)
        if hot(act)
    ]
    assert heated and not any(map(hot, steps)), "this unit no longer shows it"
    for number, acts, place in heated:
        done = [*steps[: number + 1], *acts[:place]]
        assert "save-data" in [act.kind for act in done]
