"""Plain means of groups: what a textbook interval says, and one job's too."""

import numpy as np
import pytest

from triage.review.money.plain_means import plain_means


def test_many_jobs_have_a_students_interval_of_their_own():
    # Twenty thousand jobs: five jobs' worth of steadying is nothing, and t is normal (1.644854 [memory]).
    margins = np.tile([-30.0, 10.0], 10_000)
    found = plain_means(margins, np.ones((len(margins), 1), dtype=bool))
    half = 1.644854 * 20.0 / np.sqrt(20_000)
    assert found.mean == pytest.approx([-10.0])
    assert found.high - found.mean == pytest.approx([half], rel=1e-3)
    assert found.below_zero[0] > 0.999


def test_a_group_stays_where_its_own_jobs_are():
    margins = np.array([100.0, 100.0, -50.0, -50.0, 0.0, 20.0])
    had = np.array([[1, 0], [1, 0], [0, 1], [0, 1], [0, 0], [1, 1]], dtype=bool)
    found = plain_means(margins, had)
    assert found.mean == pytest.approx([220 / 3, -80 / 3])
    assert (found.low < found.mean).all() and (found.mean < found.high).all()
    alone = plain_means(np.array([-5.0]), np.array([[True]]))
    assert np.isfinite([alone.low, alone.high, alone.below_zero]).all() and alone.below_zero[0] > 0.5
