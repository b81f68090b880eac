"""Stated margins and losses compared with an independent bench that plays the plan 200,000 times."""

from __future__ import annotations

import numpy as np
import pytest

from tests.gold import test_gold_checks_and_quotes, test_gold_units
from tests.gold.paper import paper_forecast
from tests.gold.paper_shop import paper_shop
from tests.policy.simulated_bench import simulate
from triage.policy.pricing.valuation import Valuation
from triage.policy.problem.build import plan_inputs
from triage.policy.problem.normalise import normalise
from triage.policy.solver.reduce import small_enough

TIMES = 200_000
STANDARD_ERRORS = 4.0


def gold_calls(monkeypatch):
    """Every unit of the gold tests, collected by running them."""
    calls = []

    def note(unit, work, ask=None, walk_in=False, salvage=None, checks=(), **more):
        calls.append((unit, work, ask, walk_in, salvage, checks, more))
        return original(unit, work, ask, walk_in, salvage, checks, **more)

    original = test_gold_units.worked
    for gold in (test_gold_units, test_gold_checks_and_quotes):
        monkeypatch.setattr(gold, "worked", note)
        for name, test in vars(gold).items():
            if name.startswith("test_") and not getattr(test, "pytestmark", None):
                test()
    return calls


@pytest.mark.slow
def test_gold_units_match_an_independent_simulation(monkeypatch):
    calls = gold_calls(monkeypatch)
    assert len(calls) >= 20
    for number, (unit, work, ask, walk_in, salvage, checks, more) in enumerate(calls):
        shop = paper_shop(salvage, checks)
        unit = normalise(unit, shop.catalogue)
        # Two kinds of day: on good days everything works better, so repairs are correlated.
        forecast = two_days(paper_forecast(unit, shop.catalogue, work, **more))
        inputs, space, _ = small_enough(plan_inputs(unit, forecast, shop.books_for(unit), owned=not walk_in))
        valuation = Valuation(inputs, shop.settings, space)
        price = ask if ask is not None else 150.0
        outcome = valuation.quoted_at(price) if walk_in else valuation.bought_at(price)
        terms = valuation.walk_in_terms(price) if walk_in else valuation.purchase_terms(price)
        margins = simulate(outcome, terms, TIMES, seed=number)
        error = margins.std() / np.sqrt(TIMES)
        assert abs(margins.mean() - outcome.expected_margin) <= STANDARD_ERRORS * error + 1e-9, unit.name
        stated = float((outcome.margins < -0.005).mean())
        share = float((margins < -0.005).mean())
        spread = np.sqrt(stated * (1 - stated) * (1 / TIMES + 1 / len(outcome.margins)))
        assert abs(share - stated) <= STANDARD_ERRORS * spread + 1e-9, unit.name


def two_days(forecast):
    """The same unit in two equally likely scenarios, better and worse than stated."""
    from dataclasses import replace

    def split(chance):
        away = 0.6 * np.minimum(chance, 1 - chance)
        return np.concatenate([chance + away, chance - away])

    paths = len(forecast.path_scenario)
    return replace(
        forecast,
        weights=np.array([0.5, 0.5]),
        draw=np.array([0, 1]),
        path_scenario=np.arange(paths) % 2,
        repairs={
            key: replace(
                told,
                chance=split(told.chance),
                chance_after={slug: split(chance) for slug, chance in told.chance_after.items()},
            )
            for key, told in forecast.repairs.items()
        },
        hidden={kind: split(chance) for kind, chance in forecast.hidden.items()},
    )
