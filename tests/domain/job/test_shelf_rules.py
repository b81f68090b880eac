"""Parts on the own shelf: what is on hand, who may have it, and costs that sum exactly."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.domain.job_files import kept
from triage.domain.job.shelf_rules import cost_shares, on_hand, shelf_refusals
from triage.domain.shop.shelf import ShelfMoved, ShelfPart

PLAIN = kept(7, ShelfPart("charge-board", 500, "EUR", donor=1))
PAIRED = kept(8, ShelfPart("display", 500, "EUR", donor=1, paired=True))


@given(
    st.integers(0, 10**9),
    st.lists(st.floats(0, 1e300, allow_nan=False), min_size=1, max_size=12),
)
def test_shares_sum_to_what_was_paid_and_follow_worth(paid, worths):
    shares = cost_shares(paid, worths)
    assert sum(shares) == paid and min(shares) >= 0
    weights = [Fraction(worth) for worth in worths] if any(worths) else [Fraction(1)] * len(worths)
    for share, weight in zip(shares, weights, strict=True):
        assert abs(share - paid * weight / sum(weights)) < 1


def test_shares_by_hand():
    # 100 over three equal parts: the odd cent goes to the first. Worked by hand.
    assert cost_shares(100, [1, 1, 1]) == (34, 33, 33)
    assert cost_shares(6000, [120, 60, 20]) == (3600, 1800, 600)
    assert cost_shares(5, [0, 0]) == (3, 2)
    assert cost_shares(5, []) == ()


# (what happened so far, what is wanted, the job that wants it) : whether it may be.
@pytest.mark.parametrize(
    ("before", "wanted", "job", "allowed"),
    [
        ("", "reserved", 2, True),
        ("released", "reserved", 2, True),
        ("reserved", "reserved", 3, False),
        ("reserved", "fitted", 2, True),
        ("reserved", "fitted", 3, False),
        ("reserved", "released", 2, True),
        ("", "fitted", 2, False),
        ("", "scrapped", None, True),
        ("", "sold", None, True),
        ("reserved", "sold", None, False),
        ("reserved", "scrapped", None, True),
        ("fitted", "released", 2, False),
        ("scrapped", "reserved", 2, False),
        ("sold", "reserved", 2, False),
    ],
)
def test_what_may_happen_to_a_shelf_part(before, wanted, job, allowed):
    moves = [kept(20, ShelfMoved(7, before, 2))] if before else []
    refused = shelf_refusals(PLAIN, moves, ShelfMoved(7, wanted, job))
    assert (refused == ()) == allowed


def test_reserved_is_not_on_hand_and_released_is_again():
    moves = [kept(20, ShelfMoved(7, "reserved", 2))]
    assert on_hand([PLAIN, PAIRED], moves) == (PAIRED,)
    assert on_hand([PLAIN, PAIRED], [*moves, kept(21, ShelfMoved(7, "released", 2))]) == (PLAIN, PAIRED)
    (said,) = shelf_refusals(PLAIN, moves, ShelfMoved(7, "fitted", 3))
    assert said == "this part is reserved for another job"


def test_a_paired_part_goes_to_another_unit_only_with_authorised_pairing():
    (said,) = shelf_refusals(PAIRED, [], ShelfMoved(8, "reserved", 2))
    assert "paired to its donor device" in said
    assert shelf_refusals(PAIRED, [], ShelfMoved(8, "reserved", 2), "maker's service tool, by Ada") == ()
    assert shelf_refusals(PAIRED, [], ShelfMoved(8, "reserved", 1)) == ()  # back into its own unit
