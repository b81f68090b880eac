"""A choice from a lot in words."""

import pytest

from triage.reports.wording.lot import short_losses


@pytest.mark.parametrize(
    ("in_20", "words"), [(0.0, "0"), (0.2, "< 1"), (1.0, "1"), (19.8, "> 19"), (20.0, "20")]
)
def test_only_what_never_loses_money_has_no_losses(in_20, words):
    assert short_losses(in_20) == words
