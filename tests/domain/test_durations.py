"""Bench time as text."""

import pytest

from triage.domain.durations import bench_time


@pytest.mark.parametrize(
    ("minutes", "words"), [(0.2, "0 min"), (59.4, "59 min"), (59.6, "1 h"), (134.6, "2 h 15 min")]
)
def test_minutes_below_an_hour_then_hours_and_minutes(minutes, words):
    assert bench_time(minutes) == words
