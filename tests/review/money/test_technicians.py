"""Technicians beside one another: what is owed to the jobs they were given is not held against them."""

from __future__ import annotations

import numpy as np
import pytest

from triage.review.money.attribution import attribute
from triage.review.money.technicians import adjusted_margins


def test_who_is_given_the_bad_jobs_is_not_blamed_for_them():
    # Light jobs keep 100, severe ones 40; a bench that gets nine severe in ten has 46 on the books and
    # the other 94. Half the jobs are of a dearer tier: 100 more, and three times the scatter.
    # Nobody is better: both, on the shop's average job, keep 70 + 50 (by hand).
    rng = np.random.default_rng(1)
    who = np.repeat([0, 1], 1000)
    severe = np.where(who == 0, np.arange(2000) % 10 != 0, np.arange(2000) % 10 == 0)
    tier = np.arange(2000) // 10 % 2
    margins = 100.0 + 100.0 * tier - 60.0 * severe + rng.normal(0.0, 5.0 + 10.0 * tier)
    assert margins[who == 1].mean() - margins[who == 0].mean() == pytest.approx(48.0, abs=1.5)
    fitted = attribute(margins, np.ones((2000, 1), dtype=bool), tier)
    found, _ = adjusted_margins(margins, fitted, np.column_stack([np.zeros(2000), severe]), who)
    assert found.mean == pytest.approx([120.0, 120.0], abs=1.5)
