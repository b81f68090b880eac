"""A dead part costs the plan bench time; paying for it twice is only in the forecast of parts."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from tests.outcome_models.small_shop import small_catalogue
from triage.domain.catalogue_entries import Repair
from triage.domain.shop.price_book import PriceBook
from triage.domain.shop.settings import Settings
from triage.policy.problem.books import Books
from triage.policy.problem.forecast import RepairForecast
from triage.policy.problem.options import PartLine, Worth, plan_option
from triage.priors.repair_beliefs import RepairBelief, RepairBeliefs

PATHS = 40_000
PART = PartLine("screen", 50.0, True, True, (1.0, 2.0, 3.0), dead_on_arrival=0.1)
BELIEF = RepairBelief("fix", collateral_chance=0.0)


def option(part, ratio=1.0):
    told = RepairForecast(
        "fix", "display-0", 2, np.ones(1), np.full(PATHS, 30.0), np.full(PATHS, 30.0), np.full(PATHS, ratio),
        np.zeros(PATHS),
    )  # fmt: skip
    bench = Books(
        small_catalogue(),
        Settings("a bench", "EUR", bench_rate=60.0),
        PriceBook(()),
        RepairBeliefs(),
        date(2026, 1, 1),
    )
    repair = Repair("fix", "fix", ("display-0",))
    return plan_option(repair, told, (part,), BELIEF, Worth(200.0, bench, True), [], {}, seed=1)


@pytest.mark.parametrize("ratio", [1.0, 1.02])
def test_the_price_books_chance_adds_bench_time_but_no_second_part(ratio):
    sound, fell_sound = option(replace(PART, dead_on_arrival=0.0), ratio)
    dead, fell_dead = option(PART, ratio)
    assert dead.parts == sound.parts == (pytest.approx(50.0 * ratio),) * 2
    # Half an hour again at 60 an hour, one time in ten.
    assert dead.extra[0] - sound.extra[0] == pytest.approx(3.0, abs=1e-12)
    lucky, unlucky = fell_sound(), fell_dead()
    assert np.array_equal(lucky.parts, unlucky.parts)
    more = unlucky.extra[0] - lucky.extra[0]
    assert set(np.unique(more)) == {0.0, 30.0}
    assert abs(more.mean() - 3.0) < 4 * more.std() / np.sqrt(PATHS)


def test_lead_time_of_a_part_is_triangular():
    # A triangular distribution: mean (1 + 2 + 6) / 3 = 3, chance of more than its mode (6 - 2) / (6 - 1).
    _, fell = option(replace(PART, lead_days=(1.0, 2.0, 6.0), on_hand=False))
    days = fell().days
    assert days.mean() == pytest.approx(3.0, abs=0.03)
    assert (days > 2.0).mean() == pytest.approx(0.8, abs=0.01)
