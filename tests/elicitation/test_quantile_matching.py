"""Stated counts become the belief that has them as quantiles."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import expit
from scipy.stats import norm

from triage.elicitation.quantile_matching import match_belief
from triage.elicitation.statement import Statement
from triage.errors import BeliefError
from triage.priors.kind_beliefs import belief_logit


def known(chance, jobs):
    """Quantile and distribution function of a belief: its logit is normal."""
    mean, sd = belief_logit(chance, jobs)
    return (
        lambda level: float(expit(norm(mean, sd).ppf(level))),
        lambda value: float(norm(mean, sd).cdf(np.log(value / (1 - value)))),
    )


@settings(max_examples=40, deadline=None)
@given(st.floats(0.1, 0.9), st.floats(3, 300), st.sampled_from(["fewer", "more", "both"]))
def test_a_belief_comes_back_from_its_quantiles(chance, jobs, sides):
    at, _ = known(chance, jobs)
    fewer = 20 * at(0.05) if sides != "more" else None
    more = 20 * at(0.95) if sides != "fewer" else None
    found = match_belief(Statement(20 * at(0.5), 20, fewer, more), 3)
    assert found.chance == pytest.approx(chance, abs=2e-4)
    assert found.jobs == pytest.approx(jobs, rel=0.01)
    assert not found.warnings


def test_fifteen_of_twenty_and_surprised_by_fewer_than_eleven():
    found = match_belief(Statement(15, 20, fewer=11), 3)
    _, below = known(found.chance, found.jobs)
    assert below(11 / 20) == pytest.approx(0.05, abs=5e-4)
    assert below(15 / 20) == pytest.approx(0.5, abs=5e-4)
    assert [q.words for q in found.quantiles] == ["fewer", "about"]
    assert found.worth_stated


def test_one_number_only_takes_the_stated_default_worth():
    found = match_belief(Statement(15, 20), 3)
    assert found.jobs == 3 and not found.worth_stated
    assert known(found.chance, 3)[0](0.5) == pytest.approx(0.75, abs=5e-4)


def test_three_numbers_that_no_belief_has_are_met_as_near_as_can_be_and_said_to_differ():
    found = match_belief(Statement(10, 20, fewer=9, more=19), 3)
    at, _ = known(found.chance, found.jobs)
    off = [q for q in found.quantiles if abs(q.asked - at(q.level)) > 0.01]
    assert len(off) >= 2 and [words.split(":")[0] for words in found.warnings] == [q.words for q in off]


@pytest.mark.parametrize(
    ("statement", "field"),
    [
        (Statement(20, 20), "about"),
        (Statement(0, 20), "about"),
        (Statement(1, 1), "of"),
        (Statement(15, 20, fewer=16), "fewer"),
        (Statement(15, 20, fewer=0), "fewer"),
        (Statement(15, 20, more=14), "more"),
        (Statement(15, 20, more=20), "more"),
        (Statement(15, 20, fewer=11, surprise=0.6), "surprise"),
        (Statement(15, 20, fewer=14.999), "fewer"),
        (Statement(10, 20, fewer=0.0001), "fewer"),
    ],
)
def test_what_contradicts_itself_is_refused_with_what_is_allowed(statement, field):
    with pytest.raises(BeliefError) as refused:
        match_belief(statement, 3)
    assert [fault.field for fault in refused.value.faults] == [field]
    assert refused.value.faults[0].allowed


def test_what_a_refusal_allows_is_accepted():
    with pytest.raises(BeliefError) as refused:
        match_belief(Statement(15, 20, fewer=14.9), 3)
    low, high = refused.value.faults[0].allowed.removeprefix("above ").split(" and below ")
    for fewer in (float(low) + 0.01, float(high) - 0.01):
        assert match_belief(Statement(15, 20, fewer=fewer), 3).jobs > 0
