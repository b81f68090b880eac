"""Branches of a plan: each outcome once, with its chance, followed until it rejoins the plan or ends."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from triage.domain.units.unit_file import load_unit
from triage.policy.answer import branches
from triage.policy.answer.assessment import BranchEnd
from triage.policy.answer.branches import MOST_STEPS
from triage.policy.answer.steps import StepWriter
from triage.policy.solver.state_space import Move, MoveKind
from triage.shipped import shipped
from triage.workflows.answers.assess import answer_at
from triage.workflows.answers.pricing import priced_at, unit_pricing
from triage.workflows.shop.shop import open_shop

DEVICES = ("dropped-console", "harbour-tablet", "rain-handset")
# Nobody may sell the handset: at a price there is no plan of it.
CASES = [(device, ask) for device in DEVICES for ask in (40.0, None) if (device, ask) != (DEVICES[2], 40.0)]


@pytest.fixture(scope="module")
def shop():
    return open_shop(today=date(2026, 11, 25))


def priced(device, ask, shop, **more):
    unit = load_unit(shipped(f"synthetic_cases/devices/{device}.toml"), shop.catalogue, shop.prices)
    unit = replace(unit, **more)
    return priced_at(unit_pricing(unit, shop, ask is None, None), ask)


def steps(device, ask, shop, **more):
    return answer_at(priced(device, ask, shop, **more)).steps


def told(branch):
    return (branch.causes, [step.subject or step.kind for step in branch.steps], branch.end, branch.rejoins)


def test_causes_of_a_symptom_are_branches_that_meet_the_plan_or_stop(shop):
    trace = steps("dropped-console", None, shop)[2]
    assert (trace.kind, trace.cause) == ("trace", "display-panel-dead")
    rejoin, stop = BranchEnd.REJOIN, BranchEnd.STOP
    assert [told(branch) for branch in trace.branches] == [
        (("display-flex-cut",), ["change-display-flex"], rejoin, 5),
        (("connector-unseated",), ["reseat-connector"], rejoin, 5),
        (("joint-cracked", None), [], stop, None),
        (
            ("backlight-line-dead",),
            ["board-out", "shields-off", "battery-out", "mend-backlight-line"],
            rejoin,
            5,
        ),
        (("connector-crushed",), ["board-out", "battery-out", "change-board-connector"], rejoin, 5),
    ]
    assert [step.kind for step in trace.branches[2].ending] == ["return-unfixed"]


def test_a_check_with_the_other_result_leads_to_a_finished_device(shop):
    check = steps("dropped-console", 40.0, shop, parts_value=110.0)[1]
    (branch,) = check.branches
    assert check.found is True and branch.found is False
    assert told(branch)[1:] == (
        ["open", "no-picture", "change-display-flex", "tidy-housing"], BranchEnd.FINISH, None
    )  # fmt: skip
    assert [step.kind for step in branch.ending] == [
        "dry-fit", "close", "seal", "repeat-checks", "verify", "sell"
    ]  # fmt: skip
    measured = {line.slug for step in branch.steps for line in step.verify}
    assert measured <= {line.slug for line in branch.ending[0].verify}


def test_a_look_that_changes_nothing_is_no_step_but_one_at_the_battery_is(shop):
    way = steps("harbour-tablet", 40.0, shop)
    assert [step.subject for step in way if step.kind == "cell-look"] == ["cell-bent"]
    acts = [step.subject for step in way if step.kind == "look"]
    acts += [one.subject for step in way for branch in step.branches for one in branch.steps]
    assert "camera-dead" not in acts


def test_another_method_rejoins_the_plan_after_the_repair(shop):
    port = steps("rain-handset", None, shop)[6]
    assert port.subject == "resolder-port"
    assert told(port.branches[0]) == ((), ["swap-charge-board"], BranchEnd.REJOIN, 8)


def test_a_long_branch_is_cut_short(shop, monkeypatch):
    (whole,) = steps("harbour-tablet", None, shop)[3].branches
    assert 3 < len(whole.steps) <= MOST_STEPS and whole.end is BranchEnd.REJOIN
    monkeypatch.setattr(branches, "MOST_STEPS", 3)
    (bad,) = steps("harbour-tablet", None, shop)[3].branches
    assert len(bad.steps) == 3 and bad.end is BranchEnd.UNTOLD and bad.rejoins is None


@pytest.mark.parametrize(("device", "ask"), CASES)
def test_the_chances_of_the_outcomes_of_a_step_add_up(device, ask, shop):
    for step in steps(device, ask, shop):
        other = sum(branch.chance for branch in step.branches)
        if step.kind == "repair":
            assert other == pytest.approx(1 - step.chance)
        elif step.kind in ("look", "cell-look"):
            assert other == pytest.approx(step.chance if step.found else 1 - step.chance)
        elif step.kind == "trace":
            likely = next(one.chance for one in step.causes if one.kind == step.cause)
            assert other == pytest.approx(1 - likely)
        elif step.kind == "check":
            assert other == pytest.approx(step.otherwise.chance)
        else:
            assert not step.branches


def future(plan, state):
    """All acts of the policy from a state on, as one nested tuple."""
    act = plan.act(state)
    if not isinstance(act, Move):
        return act, bool(plan.plan_space.space.states[state, 0])
    weight = plan.plan_space.space.weight
    children = plan.policy.next_state[state, : len(act.ends)]
    return act, *(future(plan, int(child)) if weight[child] else None for child in children)


def decided(plan, writer, state):
    """The state itself, or the next one that is not a look after which all goes on alike."""
    while isinstance(move := plan.act(state), Move) and move.kind is MoveKind.LOOK:
        ways = [way for way in future(plan, state)[1:] if way is not None]
        if writer.looks_at_battery(move) or any(way != ways[0] for way in ways):
            break
        state = writer.likely_child(state)
    return state


@pytest.mark.parametrize(("device", "ask"), CASES)
def test_a_branch_rejoins_the_plan_only_if_everything_after_is_the_same(device, ask, shop):
    at = priced(device, ask, shop)
    plan = at.outcome.plan
    writer = StepWriter(at.pricing.unit, shop.catalogue, at.pricing.inputs, plan, at.pricing.owned)
    way = answer_at(at).steps
    acts = [step for step in way if step.branches or step.kind in _ACTS]
    state, futures = decided(plan, writer, 0), []
    while isinstance(plan.act(state), Move):
        futures.append((state, future(plan, state)))
        state = decided(plan, writer, writer.likely_child(state))
    futures.append((state, future(plan, state)))
    assert len(acts) == len(futures) - 1  # none of these batteries is bad from the start
    for (one, _), step in zip(futures, acts, strict=False):
        for branch in step.branches:
            at_state = decided(plan, writer, begin(plan, writer, one, step, branch))
            for _ in branch.steps:
                assert all(future(plan, at_state) != known for _, known in futures), "it met before"
                at_state = decided(plan, writer, writer.likely_child(at_state))
            if branch.end is BranchEnd.REJOIN:
                met = sum(step in acts for step in way[: branch.rejoins - 1])  # saving data is no act
                assert future(plan, at_state) == futures[met][1]
            elif branch.end is not BranchEnd.UNTOLD:
                assert plan.act(at_state) == ("finish" if branch.end is BranchEnd.FINISH else "stop")


_ACTS = ("open", "board-out", "shields-off", "battery-look", "battery-out", "repair", "look", "cell-look")


def begin(plan, writer, state, step, branch):
    """The state in which a branch begins: found by its chance."""
    act, weight = plan.act(state), plan.plan_space.space.weight
    children = plan.policy.next_state[state, : len(act.ends)]
    if act.kind is MoveKind.TRACE:
        return int(children[[writer.cause(act, end) for end in range(len(children))].index(branch.causes[0])])
    return next(int(c) for c in children if weight[c] / weight[state] == pytest.approx(branch.chance))
