"""Counts of twenty: what is rounded says so, and no outcome of work is called certain."""

from __future__ import annotations

import pytest

from triage.domain.counts import forecast_in_twenty, in_twenty, with_signs


@pytest.mark.parametrize(
    ("chance", "counted", "forecast"),
    [
        (0.0, "0 in 20", "less than 1 in 20"),
        (0.02, "less than 1 in 20", "less than 1 in 20"),
        (0.3, "6 in 20", "6 in 20"),
        (0.98, "more than 19 in 20", "more than 19 in 20"),
        (1.0, "20 in 20", "more than 19 in 20"),
    ],
)
def test_only_what_is_certain_is_none_or_all_of_twenty(chance, counted, forecast):
    assert (in_twenty(chance), forecast_in_twenty(chance)) == (counted, forecast)


def test_a_narrow_place_has_signs():
    assert [with_signs(in_twenty(chance)) for chance in (0.01, 0.5, 0.99)] == [
        "< 1 in 20", "10 in 20", "> 19 in 20",
    ]  # fmt: skip
