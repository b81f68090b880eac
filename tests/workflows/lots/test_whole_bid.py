"""A lot as one purchase holds units that cannot be planned: they count as nothing, and it gets its bid."""

from __future__ import annotations

from datetime import date

import pytest

from triage.domain.units.lot_file import read_lot_text
from triage.lot_selection.whole_lot import LotTerms
from triage.workflows.lots.score import score_lot
from triage.workflows.lots.whole_bid import whole_bid
from triage.workflows.shop.shop import open_shop

SHOP = open_shop(today=date(2026, 11, 25))
HEAD = "unit,tier,cause,battery,working_price,findings\n"
PLANNED = "a,upper,dropped,sound,300,earpiece-weak\nb,middle,worn,sound,,cell-worn\n"
# Damage that must be repaired and that nobody has seen: every one may be there or not.
_NEEDED = [
    kind.slug for kind in SHOP.catalogue.kind if kind.role == "repair" and kind.needed and not kind.hidden
]
UNKNOWN = "x,top,wet,suspect,1900," + ";".join(f"{kind}/2/8 in 20" for kind in _NEEDED[:16]) + "\n"


def bid(text, **terms):
    lot = read_lot_text(HEAD + text, "lot.csv", SHOP.catalogue, SHOP.prices)
    assert lot.bad_rows == ()
    return whole_bid(lot, SHOP, LotTerms(**terms))


@pytest.mark.parametrize("text", [UNKNOWN + PLANNED, PLANNED + UNKNOWN])
def test_a_unit_that_cannot_be_planned_counts_as_nothing(text):
    without, disposal = bid(PLANNED), SHOP.settings.fees.disposal
    assert without.bid > 0 and disposal > 0
    held = bid(text)
    assert held.bad_rows == 1 and len(held.shares) == 2
    assert len(held.repaired) == len(without.repaired)
    # It takes its disposal off; the tax, which is on the margin, moves by less than that.
    assert without.bid - 2 * disposal < held.bid < without.bid
    # Worth just what its disposal costs, it changes nothing.
    even = bid(text, bad_row_value=disposal)
    assert even.bid == without.bid and even.worth == pytest.approx(without.worth, abs=1e-9)


def test_the_reason_is_plain():
    lot = read_lot_text(HEAD + PLANNED + UNKNOWN, "lot.csv", SHOP.catalogue, SHOP.prices)
    scored = score_lot(lot, SHOP)
    assert scored.labels == ("a", "b")
    (row,) = scored.bad_rows
    assert (row.line, row.label) == (4, "x") and row.text.startswith("x,top,wet")
    assert (
        "cannot be planned: this device is too complex to plan exactly (more than 100,000 states)"
        in row.faults[0].wrong
    )


def test_a_lot_of_such_units_alone_has_no_bid():
    told = bid(UNKNOWN + UNKNOWN.replace("x,", "y,", 1))
    assert (told.bid, told.bad_rows, told.repaired, told.stripped) == (None, 2, (), ())
    assert told.worth == pytest.approx(-2 * SHOP.settings.fees.disposal)
