"""Textbook decision problems solved by the product's code unchanged."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from triage.policy.decision_problem import DecisionProblem, Experiment, posterior, solve


def oil_wildcatter(times=1):
    # Raiffa 1968; Shenoy 1992 (read): chances, payoffs in thousands, the seismic table.
    seismic = Experiment(
        "seismic",
        10,
        {"no structure": (0.6, 0.3, 0.1), "open": (0.3, 0.4, 0.4), "closed": (0.1, 0.3, 0.5)},
        times,
    )
    acts = {"drill": (-70, 50, 200), "leave": (0, 0, 0)}
    return DecisionProblem(("dry", "wet", "soaking"), (0.5, 0.3, 0.2), acts, (seismic,))


def test_oil_wildcatter():
    # 20 without the test, 35 for perfect information, 12.5 for the test before its
    # cost, 22.5 with it (recomputed; 22.5 also from memory).
    answer = solve(oil_wildcatter())
    assert answer.without_checks == pytest.approx(20.0, abs=1e-10)
    assert answer.act_now == "drill"
    assert answer.perfect_information == pytest.approx(35.0, abs=1e-10)
    assert answer.checks[0].sample_information == pytest.approx(12.5, abs=1e-10)
    assert answer.checks[0].net == pytest.approx(2.5, abs=1e-10)
    assert answer.value == pytest.approx(22.5, abs=1e-10)
    assert answer.policy.do == "seismic"
    assert {result: node.do for result, node in answer.policy.then.items()} == {
        "no structure": "leave",
        "open": "drill",
        "closed": "drill",
    }
    assert "check seismic" in answer.policy.text()


def test_bayes_update_of_a_rare_condition():
    # Eddy 1982; Gigerenzer (read): 1 %, 80 %, 9.6 % -> 7.764 %.
    assert posterior((0.01, 0.99), (0.8, 0.096))[0] == pytest.approx(0.07764, abs=5e-6)


SENSITIVITY, SPECIFICITY, BENEFIT, RISK, TEST_RISK = 0.75, 0.95, 160.0, 60.0, 10.0


def treat_test_or_not(p):
    test = Experiment(
        "test",
        TEST_RISK,
        {"positive": (SENSITIVITY, 1 - SPECIFICITY), "negative": (1 - SENSITIVITY, SPECIFICITY)},
    )
    acts = {"treat": (BENEFIT, -RISK), "no treatment": (0.0, 0.0)}
    return solve(DecisionProblem(("disease", "none"), (p, 1 - p), acts, (test,))).policy.do


def edge(first, low, high):
    """Chance of disease at which the best first act stops being `first`, by bisection."""
    assert treat_test_or_not(low) == first != treat_test_or_not(high)
    while high - low > 1e-13:
        middle = (low + high) / 2
        low, high = (middle, high) if treat_test_or_not(middle) == first else (low, middle)
    return low


def test_treatment_thresholds():
    # Pauker & Kassirer 1980, NEJM 302:1109 (formulas from memory): testing threshold,
    # test-treatment threshold, and treatment threshold where no test is to be had.
    wrongly = 1 - SPECIFICITY
    t_test = (wrongly * RISK + TEST_RISK) / (wrongly * RISK + SENSITIVITY * BENEFIT)
    t_treat = (SPECIFICITY * RISK - TEST_RISK) / (SPECIFICITY * RISK + (1 - SENSITIVITY) * BENEFIT)
    assert (round(t_test, 4), round(t_treat, 4)) == (0.1057, 0.4845)
    assert edge("no treatment", 0.01, 0.2) == pytest.approx(t_test, abs=1e-9)
    assert edge("test", 0.2, 0.9) == pytest.approx(t_treat, abs=1e-9)
    plain = DecisionProblem(
        ("d", "n"), (60 / 220, 160 / 220), {"treat": (BENEFIT, -RISK), "no treatment": (0, 0)}
    )
    assert solve(plain).value == pytest.approx(0.0, abs=1e-12)  # T_treat = R / (B + R) = .2727
    assert round(RISK / (BENEFIT + RISK), 4) == 0.2727


def by_listing(problem):
    """Best value by listing every policy of a problem with single-use checks."""

    def policies(made):
        for act in problem.payoffs:
            yield lambda weight, act=act: act @ weight
        for index, check in enumerate(problem.checks):
            if index in made:
                continue
            for chosen in product(*(list(policies(made | {index})) for _ in check.results)):
                yield (
                    lambda weight, check=check, chosen=chosen: (
                        sum(follow(weight * row) for follow, row in zip(chosen, check.table, strict=True))
                        - check.cost * weight.sum()
                    )
                )

    prior = np.asarray(problem.prior)
    return max(policy(prior) for policy in policies(frozenset()))


@st.composite
def problems(draw, most_checks=2):
    count = draw(st.integers(2, 3))
    chance = st.floats(0.05, 1.0)
    prior = np.array(draw(st.lists(chance, min_size=count, max_size=count)))
    payoff = st.lists(st.floats(-100, 100), min_size=count, max_size=count)
    acts = {f"act {i}": draw(payoff) for i in range(draw(st.integers(1, 3)))}
    checks = []
    for i in range(draw(st.integers(0, most_checks))):
        table = np.array([draw(st.lists(chance, min_size=count, max_size=count)) for _ in range(2)])
        table /= table.sum(axis=0)
        checks.append(Experiment(f"check {i}", draw(st.floats(0, 20)), {"yes": table[0], "no": table[1]}))
    return DecisionProblem(tuple("abc"[:count]), prior / prior.sum(), acts, tuple(checks))


@settings(max_examples=100, deadline=None, derandomize=True)
@given(problems())
def test_equals_listing_every_policy(problem):
    assert solve(problem).value == pytest.approx(by_listing(problem), abs=1e-9)


@settings(max_examples=200, deadline=None, derandomize=True)
@given(problems(most_checks=3))
def test_order_of_the_values_of_information(problem):
    # EVPI >= EVSI >= 0 (Raiffa & Schlaifer 1961), and a check never lowers the value.
    answer = solve(problem)
    for worth in answer.checks:
        assert -1e-9 <= worth.sample_information <= answer.perfect_information + 1e-9
    assert answer.value >= answer.without_checks - 1e-9
    assert answer.value <= answer.without_checks + answer.perfect_information + 1e-9


def test_a_second_independent_reading_can_pay_and_an_excluded_one_is_impossible():
    cheap = {"yes": (0.7, 0.3), "no": (0.3, 0.7)}
    acts = {"go": (100, -100), "stay": (0, 0)}
    values = [
        solve(DecisionProblem(("a", "b"), (0.5, 0.5), acts, (Experiment("look", 1.0, cheap, times),))).value
        for times in (1, 2, 3)
    ]
    assert values[0] < values[2] and values == sorted(values)
    other = Experiment("probe", 1.0, {"yes": (0.9, 0.2), "no": (0.1, 0.8)}, excludes=("look",))
    look = Experiment("look", 1.0, cheap, excludes=("probe",))
    both = DecisionProblem(("a", "b"), (0.5, 0.5), acts, (look, other))
    alone = DecisionProblem(("a", "b"), (0.5, 0.5), acts, (Experiment("probe", 1.0, other.likelihood),))
    assert solve(both).value == pytest.approx(solve(alone).value)


def test_a_contradictory_problem_names_every_fault():
    bad = Experiment("look", 1.0, {"yes": (0.5, 0.5), "no": (0.2, 0.5)}, needs=("nothing",))
    with pytest.raises(ValueError, match="prior.*act go.*check look.*no check is named nothing"):
        DecisionProblem(("a", "b"), (0.5, 0.6), {"go": (1,)}, (bad,))
