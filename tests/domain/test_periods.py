"""Stretches of a record's time."""

from __future__ import annotations

import numpy as np
import pandas as pd

from triage.domain.periods import period_ends, period_of, quarters_ahead, quarters_between

LAST = pd.Timestamp("2025-12-31")


def days(*back):
    return [LAST - pd.Timedelta(days=number) for number in back]


def test_periods_widen_backwards():
    ends = period_ends(days(0, 3000))
    gaps = np.diff(pd.to_datetime(list(ends))).astype("timedelta64[D]").astype(int)[::-1]
    assert ends[-1] == "2025-12-31"
    quarters = gaps / 91.3125
    np.testing.assert_allclose(quarters[:4], 1, atol=0.02)
    np.testing.assert_allclose(quarters[4:8], 2, atol=0.02)
    np.testing.assert_allclose(quarters[8:], 4, atol=0.02)
    # From middle to middle, oldest first.
    np.testing.assert_allclose(quarters_between(10), [4, 3, 2, 2, 2, 1.5, 1, 1, 1])


def test_a_record_of_one_quarter_has_one_period_and_none_has_none():
    assert period_ends(days(0, 90)) == ("2025-12-31",)
    assert period_ends([]) == ()


def test_every_day_lies_in_the_period_that_ends_next():
    ends = period_ends(days(0, 250))
    assert len(ends) == 3
    found = period_of(days(0, 90, 92, 182, 184, 250, -40), ends)
    assert found.tolist() == [2, 2, 1, 1, 0, 0, 2]
    np.testing.assert_allclose(quarters_ahead(days(5, 0, -91.3125 * 2), ends), [0, 0, 2], atol=0.01)
