"""What an answer promised: mixed minutes by hand, patterns of outcomes compared with their chances."""

import json

import numpy as np
import pytest

from tests.workflows.jobs.test_intake import DAY, PHONE
from triage.policy.answer.promise import LEVELS, Promise, mixed_quantiles
from triage.workflows.answers.assess import assess
from triage.workflows.jobs.intake import decision, described
from triage.workflows.shop.shop import open_shop

TWO = PHONE.replace('"middle"', '"top"') + '\n[[finding]]\nkind = "display-glass-cracked"\n'


@pytest.fixture(scope="module")
def shop():
    return open_shop(today=DAY)


@pytest.fixture(scope="module")
def answer(shop):
    return assess(described(TWO, shop), shop, ask=40.0)


def test_minutes_of_an_attempt_with_a_chance_of_seven_in_ten():
    fixed, failed = np.full(10, 20.0), np.full(10, 60.0)
    assert mixed_quantiles(fixed, failed, np.full(10, 0.7)).tolist() == [20.0, 20.0, 20.0, 60.0, 60.0]
    assert mixed_quantiles(fixed, failed, 1.0, (0.5, 1.0)).tolist() == [20.0, 20.0]


def test_patterns_of_outcomes_agree_with_the_chances_and_are_correlated(answer):
    told = answer.promise
    patterns = np.array(told.patterns).reshape(2, 2)  # [second failed, first failed]
    assert len(told.together) == 2 and patterns.sum() == pytest.approx(1, abs=1e-5)
    chances = {one.repair: one.chance for one in told.tries}
    first, second = (chances[repair] for repair in told.together)
    assert patterns[:, 0].sum() == pytest.approx(first, abs=1e-5)
    assert patterns[0].sum() == pytest.approx(second, abs=1e-5)
    assert patterns[0, 0] > first * second  # one success speaks for the job
    stated = {row.kind: row.mean for row in answer.findings}
    assert all(one.chance == pytest.approx(stated[one.kind], abs=1e-9) for one in told.tries if not one.after)


def test_minutes_of_repairs_and_of_other_work_add_up_to_the_plan(answer, shop):
    told = answer.promise
    assert len(told.work_minutes) == len(LEVELS) and list(told.work_minutes) == sorted(told.work_minutes)
    assert told.mean_work_minutes + told.other_minutes == pytest.approx(answer.minutes, rel=0.05)
    assert 0 < told.other_minutes < answer.minutes
    assert told.other_cost == pytest.approx(told.other_minutes * shop.settings.bench_rate / 60)


def test_a_decision_stores_the_promise(answer, shop):
    kept = json.loads(decision(answer, TWO, shop).forecast)["promise"]
    assert kept["together"] == list(answer.promise.together)
    assert set(kept) == set(Promise.__dataclass_fields__)
