"""Choices within limits, compared with a listing of every subset and with the paper's linear programme."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from tests.lot_selection.made_lots import fits, made_lot, offered
from triage.errors import LotChoiceError
from triage.lot_selection.best_choice import best_choice, greedy_choice
from triage.lot_selection.lot_risk import tail_mean
from triage.lot_selection.worst_tenth import Cuts, worst_tenth_choice


def every_choice(offers):
    """Best expected margin and best worst-tenth mean over all subsets within the limits."""
    subsets = np.array(list(product((False, True), repeat=len(offers.places))), dtype=bool)
    kept = (subsets @ offers.uses.T <= offers.limits + 1e-9).all(axis=1)
    subsets = subsets[kept & subsets[:, offers.forced].all(axis=1)]
    tails = [tail_mean(offers.draws[s].sum(axis=0), np.sqrt(offers.luck[s].sum())) for s in subsets]
    return (subsets @ offers.margins).max(), max(tails)


LIMITS = st.fixed_dictionaries(
    {
        "cash": st.none() | st.floats(20, 250),
        "hours": st.none() | st.floats(1, 10),
        "most": st.dictionaries(st.sampled_from(["low", "upper"]), st.integers(0, 3)),
        "never": st.frozensets(st.integers(0, 8), max_size=2),
    }
)


@settings(max_examples=8, deadline=None)
@given(st.integers(1, 6), st.integers(0, 10**6), LIMITS)
def test_no_subset_is_better(units, seed, limits):
    held_against_every_choice(units, seed, limits)


@pytest.mark.slow
@settings(max_examples=60, deadline=None)
@given(st.integers(1, 9), st.integers(0, 10**6), LIMITS)
def test_no_subset_is_better_in_many_lots(units, seed, limits):
    held_against_every_choice(units, seed, limits)


def held_against_every_choice(units, seed, limits):
    lot = made_lot(units, 20, seed)
    offers = offered(lot, **limits)
    margin, tail = every_choice(offers)
    best, worst = best_choice(offers), worst_tenth_choice(offers)
    assert best.value == pytest.approx(margin, abs=1e-6) and fits(offers, best.taken)
    assert worst.value == pytest.approx(tail, abs=max(1e-3 * abs(tail), 0.01)) and fits(offers, worst.taken)
    assert not best.gap > 1e-3 and worst.gap <= max(1e-3 * abs(tail), 0.01)
    assert greedy_choice(offers).value <= best.value + 1e-6 and fits(offers, greedy_choice(offers).taken)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(6))
def test_no_subset_of_fourteen_is_better(seed):
    lot = made_lot(14, 200, seed)
    offers = offered(
        lot, cash=lot.prices.sum() * 0.4, hours=lot.minutes.sum() / 150, must=frozenset({seed % 14})
    )
    margin, tail = every_choice(offers)
    assert best_choice(offers).value == pytest.approx(margin, abs=1e-6)
    assert worst_tenth_choice(offers).value == pytest.approx(tail, abs=max(2e-4 * abs(tail), 0.01))


@settings(max_examples=6, deadline=None)
@given(st.integers(1, 8), st.integers(0, 10**6), st.floats(20, 200), st.floats(1, 8))
def test_looser_limits_never_hurt_and_margins_scale_with_money(units, seed, cash, hours):
    lot = made_lot(units, 20, seed)
    tight, wide = offered(lot, cash=cash, hours=hours), offered(lot, cash=1.3 * cash, hours=hours + 1)
    dear = replace(
        lot, prices=2 * lot.prices, margins=2 * lot.margins, margin_draws=2 * lot.margin_draws,
        luck_variances=4 * lot.luck_variances,
    )  # fmt: skip
    scaled = offered(dear, cash=2 * cash, hours=hours)
    for choose, slack in ((best_choice, 1e-6), (worst_tenth_choice, 0.02)):
        value = choose(tight).value
        assert choose(wide).value >= value - slack
        assert choose(scaled).value == pytest.approx(2 * value, rel=1e-3, abs=2 * slack)


def paper(offers, share=0.1):
    """Rockafellar and Uryasev 2000, eq. 17 (memory) with 0/1 holdings: one row per outcome, no luck."""
    count, outcomes = offers.draws.shape
    goal = np.concatenate([np.zeros(count), [-1.0], np.full(outcomes, 1 / (share * outcomes))])
    tail = np.hstack([offers.draws.T, -np.ones((outcomes, 1)), np.eye(outcomes)])
    uses = np.hstack([offers.uses, np.zeros((len(offers.uses), outcomes + 1))])
    low = np.concatenate([np.zeros(count), [-np.inf], np.zeros(outcomes)])
    high = np.concatenate([np.ones(count), np.full(outcomes + 1, np.inf)])
    return -milp(
        goal,
        constraints=[LinearConstraint(tail, lb=0.0), LinearConstraint(uses, ub=offers.limits)],
        integrality=np.arange(len(goal)) < count,
        bounds=Bounds(low, high),
    ).fun


@pytest.mark.parametrize("seed", range(2))
def test_without_luck_the_choice_solves_the_programme_of_the_paper(seed):
    lot = made_lot(20, 65, seed, shared=30.0, luck=(0.0, 0.0))
    offers = offered(lot, cash=200.0, hours=12.0)
    assert worst_tenth_choice(offers).value == pytest.approx(paper(offers), rel=2e-4, abs=0.01)


def test_more_luck_changes_the_risk_averse_choice():
    """Two units of equal margin: the risk-averse choice takes the one with less luck."""
    lot = made_lot(2, 40, 3)
    same = np.full((2, 40), 100.0)
    object.__setattr__(lot, "margins", np.array([101.0, 100.0]))
    object.__setattr__(lot, "margin_draws", same + [[1.0], [0.0]])
    object.__setattr__(lot, "luck_variances", np.array([80.0**2, 5.0**2]))
    offers = offered(lot, most={tier: 1 for tier in set(lot.tiers)}, hours=lot.minutes.max() / 60)
    if lot.minutes.sum() > lot.minutes.max():
        assert best_choice(offers).taken.tolist() == [True, False]
        assert worst_tenth_choice(offers).taken.tolist() == [False, True]


def test_cuts_of_an_earlier_search_are_valid_under_other_limits():
    lot, cuts = made_lot(16, 40, 5), Cuts()
    worst_tenth_choice(offered(lot, cash=150.0), cuts=cuts)
    again = worst_tenth_choice(offered(lot, cash=200.0), cuts=cuts)
    fresh = worst_tenth_choice(offered(lot, cash=200.0))
    assert again.value == pytest.approx(fresh.value, rel=2e-4)


def test_required_units_are_chosen_and_broken_limits_are_named():
    lot = made_lot(9, 20, 8)
    poor = int(np.argmin(lot.margins))
    offers = offered(lot, cash=150.0, must=frozenset({poor}))
    for choice in (best_choice(offers), greedy_choice(offers), worst_tenth_choice(offers)):
        assert choice.taken[poor]
    with pytest.raises(LotChoiceError, match=r"always bought need .* cash; the limit is 1\.00"):
        offered(lot, cash=1.0, must=frozenset({0, 1}))


def test_nothing_is_chosen_from_an_empty_offer():
    lot = made_lot(3, 10, 0)
    offers = offered(lot, never=frozenset({0, 1, 2}))
    assert best_choice(offers).value == worst_tenth_choice(offers).value == 0.0


@pytest.mark.parametrize(
    # HiGHS prints its name for every programme by default, and SciPy's copy a stray line for the second.
    "lot",
    [(9, 20, 8), pytest.param((240, 1000, 240), marks=pytest.mark.slow)],
)
def test_the_solver_prints_nothing(capfd, lot):
    worst_tenth_choice(offered(made_lot(*lot), cash=1000.0, hours=40.0, most={"upper": 10}))
    assert capfd.readouterr() == ("", "")
