"""The bench that plays a plan in the invented shop's true world.

If it is played under the plan's own assumptions, the margin must be the promised
one: the bench shares no code with the recursion. In the true world, a unit with
one finding must be fixed as often as the truth says, computed here.
"""

from datetime import date

import numpy as np
import pytest

from synthetic_cases.bench import Bench
from synthetic_cases.chances import conditional_logit, fresh_job_chance
from synthetic_cases.past import play_past
from tests.benchmarks.plans.invented_world import draw_world, wrecks
from tests.benchmarks.plans.true_play import play_plan
from tests.benchmarks.plans.true_settlement import DEPARTURES
from triage.workflows.answers.pricing import priced_at, unit_pricing
from triage.workflows.shop.shop import open_shop

PLAYS = 300


@pytest.fixture(scope="module")
def shop():
    return open_shop(today=date(2026, 11, 25))


def assessed(truth, shop, count, seed, at=None, wanted=lambda wreck: True):
    """Wrecks as they come in, priced as asked or, where `at` is given, for that much."""
    for wreck in filter(wanted, wrecks(truth, count, seed)):
        pricing = unit_pricing(wreck.unit, shop)
        yield wreck, pricing, priced_at(pricing, wreck.asked if at is None else at)


def test_simulated_as_planned_the_margin_is_the_promised_one(truth, shop):
    gaps = []
    for wreck, pricing, priced in assessed(truth, shop, 20, seed=3):
        world = draw_world(truth, wreck, pricing, PLAYS, seed=3)
        played = play_plan(priced, world, frozenset(DEPARTURES))
        error = max(played.margin.std() / np.sqrt(PLAYS), 1e-6)
        gaps.append((played.margin.mean() - priced.outcome.expected_margin) / error)
        short = played.finished.mean() - priced.outcome.plan.chance_finished
        assert abs(short) < 4 * np.sqrt(0.25 / PLAYS)
    assert np.abs(gaps).max() < 4
    assert np.abs(np.mean(gaps)) < 4 / np.sqrt(len(gaps))


def test_acts_on_the_battery_take_the_minutes_that_were_promised(truth, shop):
    """Minutes vary less than money, so they reveal a battery act that is omitted or repeated."""
    gaps = {"suspect": [], "bad": []}
    for wreck, pricing, priced in assessed(truth, shop, 400, seed=5, at=0.0):
        start = pricing.inputs.problem.safety.battery
        if len(gaps.get(start, range(4))) >= 4 or priced.outcome.plan.chance_finished < 0.3:
            continue
        world = draw_world(truth, wreck, pricing, PLAYS, seed=5)
        played = play_plan(priced, world, frozenset(DEPARTURES))
        error = played.minutes.std() / np.sqrt(PLAYS)
        gaps[start].append((played.minutes.mean() - priced.outcome.expected_minutes) / error)
        if min(map(len, gaps.values())) == 4:
            break
    for start, found in gaps.items():
        assert len(found) == 4, start
        assert np.abs(found).max() < 4 and np.abs(np.mean(found)) < 4 / np.sqrt(len(found)), start


@pytest.mark.slow
def test_one_needed_repair_works_as_often_as_the_truth_says(truth, shop):
    """Averaged over job effects, with the levels' effects: all but the chances as planned."""
    alone, catalogue = frozenset(DEPARTURES) - {"chances"}, shop.catalogue

    def single(wreck):
        kind, *others = wreck.seen
        one = not others and len(catalogue.repairs_for(kind)) == 1
        return one and catalogue.kinds[kind].needed and not catalogue.kinds[kind].raises

    checked = 0
    for wreck, pricing, priced in assessed(truth, shop, 120, seed=4, at=0.0, wanted=single):
        if priced.outcome.plan.chance_finished < 0.05:
            continue
        (kind,) = wreck.seen
        world = draw_world(truth, wreck, pricing, PLAYS, seed=4)
        person = wreck.person
        chance = truth.kinds[kind].chance[wreck.seen[kind].severity - 1]
        logit = conditional_logit(np.array(chance), truth.job_effect_sd)
        logit += truth.tiers[person.tier].effect + truth.causes[person.cause].effect
        logit += truth.technicians[person.technician].effect
        expected = float(fresh_job_chance(logit, truth.job_effect_sd))
        share = play_plan(priced, world, alone).finished.mean()
        assert abs(share - expected) < 4 * np.sqrt(expected * (1 - expected) / PLAYS), kind
        checked += 1
    assert checked >= 5


@pytest.mark.slow
def test_every_departure_changes_the_margin_of_some_play(truth, shop):
    """Every switch has an effect on a few dozen wrecks."""
    moved = dict.fromkeys(DEPARTURES, 0.0)
    for wreck, pricing, priced in assessed(truth, shop, 25, seed=6, at=0.0):
        world = draw_world(truth, wreck, pricing, 20, seed=6)
        true = play_plan(priced, world).margin
        for name in DEPARTURES:
            moved[name] += np.abs(true - play_plan(priced, world, frozenset([name])).margin).sum()
    assert all(amount > 0 for amount in moved.values()), moved


def test_the_bench_makes_the_attempts_that_are_in_the_record(truth, catalogue):
    past, bench = play_past(truth, seed=7, jobs=300), Bench(truth, catalogue)
    compared = 0
    for unit, damage, record in zip(past.units, past.damage, past.records, strict=True):
        by_kind = {found.kind: found for found in damage}
        tried = set()
        for line in record.lines:
            if line.outcome == "not-attempted" or np.isnan(line.minutes) or line.kind in tried:
                continue
            tried.add(line.kind)
            again = any(other.kind == line.kind and other is not line for other in record.lines)
            if again:
                continue
            made = bench.attempt(unit, by_kind[line.kind], line.method)
            assert (made.fixed, made.minutes, made.parts_cost) == (
                line.outcome == "fixed",
                line.minutes,
                line.parts_cost,
            )
            compared += 1
    assert compared > 300
