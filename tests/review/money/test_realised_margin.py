"""Margins of single jobs, worked with a pencil; what is not told is counted and left out."""

import numpy as np
import pandas as pd
import pytest

from tests.review.money_records import CATALOGUE, FREE, SETTINGS, history, row
from triage.review.money.realised_margin import realised_margins


def only(rows, settings=SETTINGS):
    money = realised_margins(history(rows), CATALOGUE, settings).money
    assert len(money) == 1
    return money.iloc[0]


def test_a_unit_bought_mended_and_sold():
    job = only([
        row("a", "hinge-loose", paid=60.0, sold=210.0, minutes=40.0, parts_cost=12.0),
        row("a", "key-stuck", "not-fixed", paid=60.0, sold=210.0, minutes=20.0, parts_cost=3.0),
    ])  # fmt: skip
    # Fees: 10 % of 60 to the auction, 7 postage, 4 consumables, 10 % of 210, 6 postage. Tax: 150 / 6.
    assert (job["fees"], job["tax"], job["labour"], job["parts"]) == pytest.approx((44.0, 25.0, 30.0, 15.0))
    assert job["margin"] == pytest.approx(210 - 60 - 15 - 30 - 44 - 25)
    assert job["finished"]  # the key is not needed for a sale


def test_a_unit_stopped_and_sold_for_parts_at_a_loss():
    job = only([row("a", "board-wet", "not-fixed", paid=60.0, sold=40.0, minutes=60.0)])
    # Disposal in the place of postage out; sold below its price, no tax.
    assert (job["fees"], job["tax"]) == pytest.approx((6 + 7 + 4 + 4 + 1.5, 0.0))
    assert job["margin"] == pytest.approx(40 - 60 - 30 - 22.5)


def test_a_walk_in_is_taxed_on_its_whole_price():
    job = only([row("a", "hinge-loose", route="walk-in", paid=np.nan, sold=120.0, minutes=30.0)])
    assert (job["paid"], job["fees"], job["tax"]) == pytest.approx((0.0, 2.4 + 4.0, 20.0))
    assert job["margin"] == pytest.approx(120 - 15 - 6.4 - 20)


@pytest.mark.parametrize(
    "kind, route, cost",
    # Ours: 30 % refund 200 less the 50 % it then fetches, 70 % one of two attempts again (30 + 10) / 2.
    [
        ("same-fault", "bought", 0.3 * 100 + 0.7 * 20),
        ("dead-part", "walk-in", 20.0),
        ("new-damage", "bought", 0.0),
    ],
)
def test_a_comeback_costs_what_the_settings_say(kind, route, cost):
    shared = {"route": route, "sold": 200.0, "comeback_date": "2026-03-01", "comeback_kind": kind}
    job = only([
        row("a", "hinge-loose", minutes=40.0, parts_cost=4.0, **shared),
        row("a", "screen-dim", minutes=20.0, parts_cost=6.0, **shared),
    ])  # fmt: skip
    assert job["comeback"] == pytest.approx(cost)


def test_rows_of_one_method_are_one_attempt_told_once():
    shared = {"sold": 50.0, "method": "swap"}
    job = only([
        row("a", "hinge-loose", minutes=40.0, parts_cost=4.0, **shared),
        row("a", "screen-dim", minutes=np.nan, parts_cost=np.nan, **shared),
    ])  # fmt: skip
    assert (job["minutes"], job["parts"]) == (40.0, 4.0)


def test_what_is_not_told_is_counted_and_never_guessed():
    told = realised_margins(history([
        row("whole", "hinge-loose", paid=10.0, sold=50.0),
        row("open", "hinge-loose", closed=None, sold=50.0),
        row("unsold", "hinge-loose", sold=np.nan),
        row("nowhere", "hinge-loose", route="", sold=50.0),
        row("priced", "hinge-loose", route="", paid=5.0, sold=50.0),
        row("unpriced", "hinge-loose", paid=np.nan, sold=50.0),
        row("untimed", "hinge-loose", sold=50.0),
        row("untimed", "screen-dim", sold=50.0, minutes=np.nan),
        row("partless", "screen-dim", sold=50.0, parts_cost=np.nan),
        row("untouched", "screen-dim", "not-attempted", sold=5.0, minutes=np.nan, parts_cost=np.nan),
    ]), CATALOGUE, SETTINGS)  # fmt: skip
    assert list(told.money.index) == ["whole", "priced", "untouched"]
    assert dict(told.left_out) == {
        "not closed yet": 1, "not sold yet": 1, "neither bought nor a walk-in": 1,
        "bought, and no price paid": 1, "an attempt without minutes": 1, "an attempt without parts cost": 1,
    }  # fmt: skip
    assert told.lacks == ()


SPENT = {"paid": 60.0, "minutes": 60.0, "parts_cost": 5.0}


def test_a_stripped_unit_brings_what_its_parts_are_worth():
    # Parts kept change no hands: no fees and no tax on them. Disposal in the place of postage out.
    shared = {**SPENT, "sold": np.nan, "ending": "stripped", "parts_value": 32.0}
    job = only(
        [row("a", "board-wet", "not-fixed", **shared), row("a", "key-stuck", **shared | {"minutes": 0})]
    )
    assert (job["sold"], job["kept"], job["fees"], job["tax"]) == pytest.approx((0, 32, 6 + 7 + 4 + 1.5, 0))
    assert job["margin"] == pytest.approx(32 - 60 - 30 - 10 - 18.5)
    # Parts that were sold, and nothing said of others.
    job = only([row("a", "board-wet", "not-fixed", **shared | {"sold": 40.0, "parts_value": np.nan})])
    assert job["margin"] == pytest.approx(40 - 60 - 30 - 5 - 18.5 - 4)


def test_a_unit_disposed_of_brings_nothing_and_costs_its_disposal():
    job = only([row("a", "hinge-loose", **SPENT, sold=np.nan, ending="disposed")])
    assert not job["finished"] and job["margin"] == pytest.approx(-60 - 30 - 5 - 18.5)


def test_a_part_of_the_shelf_stands_for_a_part_bought():
    job = only([
        row("a", "hinge-loose", sold=50.0, parts_cost=np.nan, shelf_cost=12.0),
        row("a", "screen-dim", sold=50.0, parts_cost=3.0, shelf_cost=np.nan),
    ])  # fmt: skip
    assert job["parts"] == 15.0


def test_an_ending_without_a_price_is_unknown_and_named():
    told = realised_margins(history([
        row("stripped", "hinge-loose", sold=np.nan, ending="stripped", parts_value=np.nan),
        row("given back", "hinge-loose", route="walk-in", sold=np.nan, ending="returned-unfixed"),
        row("on the shelf", "hinge-loose", sold=np.nan, ending=""),
        row("unpaid", "hinge-loose", "not-fixed", route="walk-in", sold=0.0, ending="returned-unfixed"),
    ]), CATALOGUE, FREE)  # fmt: skip
    assert list(told.money.index) == ["unpaid"]
    assert dict(told.left_out) == {
        "stripped, and no value of its parts": 1, "sold or returned, and no price": 1, "not sold yet": 1,
    }  # fmt: skip


def test_a_shop_in_which_a_quarter_fails_shows_its_true_mean():
    # 100 units at 60; three in four are sold at 140, the rest are stripped (40) and disposed of by turns.
    ends = [("sold", 140.0, np.nan)] * 75 + [("stripped", np.nan, 40.0), ("disposed", np.nan, np.nan)] * 12
    rows = [
        row(str(n), "hinge-loose", "fixed" if end == "sold" else "not-fixed", paid=60.0, sold=sold,
            ending=end, parts_value=kept)
        for n, (end, sold, kept) in enumerate(ends)
    ]  # fmt: skip
    told = realised_margins(history(rows), CATALOGUE, FREE)
    assert told.left_out == () and len(told.money) == 99
    assert told.money["margin"].mean() == pytest.approx((75 * 80 + 12 * (-20 - 60)) / 99)


def test_work_done_again_is_charged_and_its_last_outcome_counts():
    shared = {"paid": 10.0, "sold": 90.0}
    again = [row("a", "hinge-loose", out, minutes=20.0, **shared) for out in ("fixed", "not-fixed")]
    job = only(again)
    assert job["minutes"] == 40.0 and not job["finished"]
    untimed = history([again[0], again[1] | {"minutes": np.nan}])
    assert dict(realised_margins(untimed, CATALOGUE, FREE).left_out) == {"an attempt without minutes": 1}


def test_absent_columns_are_named():
    rows = pd.DataFrame([row("a", "hinge-loose", sold=50.0)]).drop(columns=["minutes", "sold"])
    told = realised_margins(history(rows.to_dict("records")), CATALOGUE, SETTINGS)
    assert told.lacks == ("sold", "minutes") and told.money.empty
    assert told.left_out == (("no sale price", 1),)
