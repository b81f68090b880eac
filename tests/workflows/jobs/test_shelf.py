"""Part prices and shelf parts change answers; what is promised is no longer on hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from triage.domain.catalogue import load_catalogue
from triage.domain.shop.settings import Fees, Settings
from triage.domain.shop.shelf import PartLeft, PriceFound, ShelfMoved, ShelfPart
from triage.errors import JobRuleError
from triage.workflows.jobs.shelf import (
    found_to_work,
    note_price,
    part_sales,
    scrap,
    sell_part,
    shelf_lines,
    shelve,
    supply_of,
)

CATALOGUE = load_catalogue()
DAY = date(2026, 3, 2)
PART = ShelfPart("display", 900, "EUR", tier="upper")
NOTE = PriceFound("display", "usual source", 4200, "EUR", DAY)


def test_a_bought_part_is_tested_then_counted_on_then_sold(ledger):
    shelve(ledger, "ada", PART)
    (line,) = shelf_lines(ledger)
    assert (line.where, line.free, line.donor) == ("on hand", True, "")
    assert not supply_of(ledger, CATALOGUE).shelf[0].tested
    with pytest.raises(JobRuleError, match="how it was tested"):
        found_to_work(ledger, "ada", line.part.id, " ")
    found_to_work(ledger, "ada", line.part.id, "lit up on the test board")
    assert supply_of(ledger, CATALOGUE).shelf == (replace(PART, tested=True),)
    settings = Settings("bench", "EUR", fees=Fees(selling_share=0.1))
    sale = PartLeft("sold", DAY, price_minor=3055, person="Ivo Quill")
    sell_part(ledger, CATALOGUE, settings, "ada", line.part.id, sale, fees_known=False)
    assert supply_of(ledger, CATALOGUE).shelf == () == shelf_lines(ledger)
    with pytest.raises(JobRuleError, match="sold"):
        scrap(ledger, "ada", line.part.id, DAY)
    # Bought new: it belongs to no job, and tax is due on its whole price. 10 % of 30.55 by hand.
    (told,) = part_sales(ledger)
    assert (told.donor, told.taxable, told.sale.record.fees_minor) == ("", 3055, 306)


def test_a_reserved_part_is_not_on_hand(ledger):
    shelve(ledger, "ada", PART)
    (line,) = shelf_lines(ledger)
    with ledger.writing("ada") as writing:
        writing.shelf_append(ShelfMoved(line.part.id, "reserved"))
    assert [(line.where, line.free) for line in shelf_lines(ledger)] == [("reserved for a job", False)]
    assert supply_of(ledger, CATALOGUE).shelf == ()


def test_a_price_is_noted_or_refused_with_every_reason(ledger):
    with pytest.raises(JobRuleError) as refusal:
        note_price(ledger, "ada", replace(NOTE, source=" ", cost_minor=-1, lead_low=9, dead_on_arrival=1.0))
    assert len(refusal.value.refusals) == 4
    note_price(ledger, "ada", NOTE)
    assert supply_of(ledger, CATALOGUE).found == (NOTE,)
