"""A wreck is stripped into parts that are used and sold: shares, money, tax, returns, and who bought them."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from tests.workflows.at_the_desk import CLEAR, DAY, AtTheDesk, bought
from triage.domain.job.records import CheckMade, FoundDamage, Intake, PartFate, PartOrdered
from triage.domain.shop.shelf import PartLeft, PartReturned, ShelfPart
from triage.errors import JobRuleError
from triage.workflows.jobs.erasure_list import erasure_list, forget_again, note_buyer_erased
from triage.workflows.jobs.forget import forget_buyer, forget_person, people_due
from triage.workflows.jobs.intake import consider, found_damage, take
from triage.workflows.jobs.parts import order_part, part_fate, reserve_part
from triage.workflows.jobs.shelf import (
    data_wiped,
    now_fits,
    part_returned,
    part_sales,
    scrap,
    sell_part,
    shelf_lines,
    shelve,
)
from triage.workflows.jobs.stripping import TakenPart, offered_parts, strip
from triage.workflows.jobs.work import make_check

LATER = DAY + timedelta(days=3)


def of_part(keeper, part):
    (found,) = (line.part for line in shelf_lines(keeper.ledger) if line.part.record.part == part)
    return found


def sold(keeper, part, price, fees=None, buyer="Ivo Quill", on=LATER):
    sale = PartLeft("sold", on, price_minor=price, fees_minor=fees or 0, person=buyer)
    shelf = of_part(keeper, part).id
    settings = keeper.shop.settings
    sell_part(keeper.ledger, keeper.catalogue, settings, "ada", shelf, sale, fees is not None)


def test_minutes_are_recorded_and_parts_fit_their_model_or_what_the_shop_says(keeper):
    donor = bought(keeper)
    taken = [
        TakenPart("display", worth=28.0),
        TakenPart("loudspeaker", worth=4.0, model="K2; K3"),
        TakenPart("torch", worth=1.0, whole_class=True),
    ]
    donor.do(strip, DAY, taken, "", 35.0)
    assert donor.file.moves[-1].record.minutes == 35.0
    fits = {line.part.record.part: (line.part.record.tier, line.part.record.model)
            for line in shelf_lines(keeper.ledger)}  # fmt: skip
    assert fits == {"display": ("", "K2"), "loudspeaker": ("", "K2; K3"), "torch": ("middle", "")}


def test_a_part_of_a_device_without_a_model_never_fits_a_whole_class_in_silence(keeper):
    donor = bought(keeper, CLEAR.replace('model = "K2"\n', ""))
    (said,) = donor.refused(strip, DAY, [TakenPart("torch", worth=1.0)])
    assert "which model the parts fit" in said
    donor.do(strip, DAY, [TakenPart("torch", worth=1.0, model="K2")])
    part = of_part(keeper, "torch")
    assert (part.record.tier, part.record.model) == ("", "K2")
    with pytest.raises(JobRuleError, match="how you know"):
        now_fits(keeper.ledger, "ada", part.id, "", "K9", " ")
    now_fits(keeper.ledger, "ada", part.id, "", "K2; K9", "tried in both")
    assert of_part(keeper, "torch").record.model == "K2; K9"


def ordered(job, part, cost, **more):
    job.do(order_part, PartOrdered(part, "usual source", cost, **more))
    return job.file.orders[-1].id


def test_open_orders_are_named_with_their_sum_and_each_is_decided(keeper):
    donor = bought(keeper)
    far, here, there = (
        ordered(donor, "display", 15500),
        ordered(donor, "charge-board", 900, returnable_until=LATER),
        ordered(donor, "torch", 300),
    )
    for order in (here, there):
        donor.do(part_fate, PartFate(order, DAY, "arrived"))
    refused = donor.refused(strip, DAY, [])
    assert len(refused) == 3 and "display bought for this job (€155.00)" in refused[0]
    assert (
        'torch bought for this job cannot be "sent-back"'
        in donor.refused(strip, DAY, [], orders={far: "cancelled", here: "sent-back", there: "sent-back"})[0]
    )
    donor.do(strip, DAY, [], orders={far: "cancelled", here: "sent-back", there: "keep"})
    fates = {kept.record.order: (kept.record.fate, kept.record.refund_minor) for kept in donor.file.fates}
    assert fates == {far: ("cancelled", 15500), here: ("sent-back", 0), there: ("shelved", 0)}
    (line,) = shelf_lines(keeper.ledger)
    told = line.part.record
    assert (told.part, told.cost_minor, told.donor, told.model) == ("torch", 300, None, "K2")


def test_an_order_kept_for_the_shelf_goes_there_once_it_has_arrived(keeper):
    donor = bought(keeper)
    far = ordered(donor, "display", 15500)
    donor.do(strip, DAY, [], orders={far: "keep"})
    donor.do(part_fate, PartFate(far, LATER, "arrived"))
    donor.do(part_fate, PartFate(far, LATER, "shelved"))
    assert of_part(keeper, "display").record.cost_minor == 15500


def test_a_main_board_is_shelved_and_never_sold_with_its_data(keeper):
    donor = bought(keeper)
    donor.do(strip, DAY, [TakenPart("main-board", worth=30.0)])
    with pytest.raises(JobRuleError, match="holds data: it is never sold"):
        sold(keeper, "main-board", 3000)
    with pytest.raises(JobRuleError, match="method and the proof"):
        data_wiped(keeper.ledger, "ada", of_part(keeper, "main-board").id, "")
    data_wiped(keeper.ledger, "ada", of_part(keeper, "main-board").id, "reset, set-up screen shown")
    sold(keeper, "main-board", 3000)
    assert [sale.part.part for sale in part_sales(keeper.ledger)] == ["main-board"]


def test_a_main_board_that_cannot_be_wiped_is_used_or_destroyed(keeper):
    bought(keeper).do(strip, DAY, [TakenPart("main-board", worth=30.0)])
    job = bought(keeper)
    job.do(reserve_part, of_part(keeper, "main-board").id, DAY)
    with pytest.raises(JobRuleError, match="reserved for a job"):
        scrap(keeper.ledger, "ada", job.file.orders[0].record.shelf, DAY)
    job.do(part_fate, PartFate(job.file.orders[0].id, DAY, "sent-back"))
    scrap(keeper.ledger, "ada", of_part(keeper, "main-board").id, DAY, "shredded")
    assert shelf_lines(keeper.ledger) == ()


@pytest.mark.parametrize(
    ("finding", "checked", "said"),
    [
        ("cell-swollen", None, "a dangerous battery never goes on the shelf"),
        ("cell-bent", None, "a dangerous battery never goes on the shelf"),
        (None, True, "the last look at the battery found a fault"),
    ],
)
def test_a_battery_goes_on_the_shelf_only_where_it_is_known_to_be_good(keeper, finding, checked, said):
    donor = bought(keeper)
    if finding:
        donor.do(found_damage, FoundDamage(finding, known_at="opening"))
    if checked is not None:
        donor.do(make_check, CheckMade("cell-look", checked))
    refused = donor.refused(strip, DAY, [TakenPart("battery", worth=5.0)])
    assert any(said in words for words in refused)
    offered = {part.part: part for part in offered_parts(keeper.shop, donor.file)}
    assert said in offered["battery"].refused


def test_a_sound_battery_goes_on_the_shelf(keeper):
    donor = bought(keeper)
    donor.do(make_check, CheckMade("cell-look", False))
    donor.do(strip, DAY, [TakenPart("battery", worth=5.0)])
    assert of_part(keeper, "battery").record.worth_minor == 500


def test_a_battery_of_a_bent_device_is_looked_at_first(keeper):
    told = Intake(DAY, CLEAR, cause="bent", battery_looked_at=True)
    donor = AtTheDesk(keeper, consider(keeper, told, "bought"))
    donor.do(take, DAY, 4000)
    refused = donor.refused(strip, DAY, [TakenPart("battery", worth=5.0)])
    assert any("look at it first" in words for words in refused)


def test_a_part_that_the_record_calls_damaged_is_not_shelved_as_tested(keeper):
    donor = bought(keeper)
    donor.do(found_damage, FoundDamage("back-glass-cracked", known_at="opening"))
    offered = {part.part: part for part in offered_parts(keeper.shop, donor.file)}
    assert {slug for slug, part in offered.items() if part.damage} == {"back-glass"}
    assert "as not tested" in donor.refused(strip, DAY, [TakenPart("back-glass", True, worth=1.0)])[0]
    donor.do(strip, DAY, [TakenPart("back-glass", worth=1.0)])


def test_parts_that_are_glued_in_or_used_up_are_not_offered(keeper):
    offered = {part.part for part in offered_parts(keeper.shop, bought(keeper).file)}
    assert {"main-board", "display", "rear-camera", "battery"} <= offered
    assert not {"screws", "solder-and-flux", "adhesive-seal", "display-glass"} & offered


def test_a_sale_has_price_buyer_day_and_fees(keeper):
    donor = bought(keeper)
    donor.do(strip, DAY, [TakenPart("display", worth=30.0), TakenPart("torch", worth=10.0)])
    with pytest.raises(JobRuleError, match="enter the buyer"):
        sold(keeper, "display", 3500, buyer=" ")
    with pytest.raises(JobRuleError, match="price and fees"):
        sold(keeper, "display", -1)
    sold(keeper, "display", 3500, 260)
    sold(keeper, "torch", 999)
    late, first = part_sales(keeper.ledger)
    assert (first.sale.record.price_minor, first.sale.record.fees_minor, first.sale.record.person) == (
        3500, 260, "Ivo Quill",
    )  # fmt: skip
    assert (first.sale.record.on, first.donor, first.taxable) == (LATER, donor.file.label, 500)
    fees = keeper.shop.settings.fees
    share = fees.selling_share + fees.payment_share
    assert late.sale.record.fees_minor == int(9.99 * share * 100 + 0.5)
    with pytest.raises(JobRuleError, match="cannot be scrapped"):
        scrap(keeper.ledger, "ada", first.sale.record.shelf, LATER)


@pytest.mark.parametrize(("to", "on_shelf"), [("shelf", True), ("scrapped", False)])
def test_a_sold_part_comes_back(keeper, to, on_shelf):
    donor = bought(keeper)
    donor.do(strip, DAY, [TakenPart("display", True, worth=30.0)])
    sold(keeper, "display", 5000, 400)
    (sale,) = part_sales(keeper.ledger)
    with pytest.raises(JobRuleError, match="between 0 and the price"):
        part_returned(keeper.ledger, "ada", PartReturned(sale.sale.id, LATER, to, 5001))
    part_returned(keeper.ledger, "ada", PartReturned(sale.sale.id, LATER, to, 5000, "dead line"))
    with pytest.raises(JobRuleError, match="returned already"):
        part_returned(keeper.ledger, "ada", PartReturned(sale.sale.id, LATER, to, 1))
    lines = shelf_lines(keeper.ledger)
    assert [line.part.record.tested for line in lines] == ([False] if on_shelf else [])
    if on_shelf:
        sold(keeper, "display", 4200, 0)
        assert [one.taxable for one in part_sales(keeper.ledger)] == [200, 0]


def test_the_buyer_of_a_part_is_erased_with_the_people_of_its_device(keeper):
    donor = bought(keeper)
    donor.do(strip, DAY, [TakenPart("display", worth=30.0)])
    sale = PartLeft("sold", LATER, price_minor=5000, person="Ivo Quill", note="for Ivo Quill's own")
    shelf = of_part(keeper, "display").id
    sell_part(keeper.ledger, keeper.catalogue, keeper.shop.settings, "ada", shelf, sale)
    with keeper.ledger.reading() as reading:
        file = reading.job(donor.file.id)
    assert file.parts_left[0].record.person == "Ivo Quill"
    forget_person(keeper, file.id, file.version, LATER, "on request")
    (sale,) = part_sales(keeper.ledger)
    assert sale.sale.record.person == "" and sale.sale.record.price_minor == 5000
    assert "Ivo" not in sale.sale.record.note


def test_the_time_for_which_people_are_kept_runs_from_the_last_sale(keeper):
    today = DAY + timedelta(days=40)
    settings = replace(keeper.shop.settings, keep_people_days=30)
    keeper = replace(keeper, shop=replace(keeper.shop, settings=settings, today=today))
    donor = bought(keeper)
    donor.do(strip, DAY, [TakenPart("display", worth=30.0)])
    sold(keeper, "display", 5000, on=DAY + timedelta(days=20))
    assert people_due(keeper) == ()
    later = replace(keeper, shop=replace(keeper.shop, today=DAY + timedelta(days=50)))
    assert [file.label for file in people_due(later)] == [donor.file.label]


def test_the_buyer_of_a_part_bought_to_stock_is_erased_and_stays_so_in_a_copy(keeper, tmp_path):
    shelve(keeper.ledger, "ada", ShelfPart("display", 900, "EUR", tier="upper"))
    sold(keeper, "display", 5000)
    (sale,) = part_sales(keeper.ledger)
    listed = erasure_list(keeper.ledger.engine.url)
    with pytest.raises(JobRuleError, match="enter the reason"):
        forget_buyer(keeper, sale.sale.id, " ")
    forget_buyer(keeper, sale.sale.id, "on request")
    (gone,) = part_sales(keeper.ledger)
    assert gone.sale.record.person == "" and gone.sale.record.price_minor == 5000 and gone.sale.corrected
    with pytest.raises(JobRuleError, match="holds no buyer"):
        forget_buyer(keeper, sale.sale.id, "on request")
    # A copy in which another such sale still has its buyer.
    with keeper.ledger.writing("ada") as writing:
        again = replace(sale.sale.record, person="Ivo Quill")
        number = writing.shelf_append(again)
    with keeper.ledger.reading() as reading:
        copy = next(kept for kept in reading.parts_left() if kept.id == number)
    note_buyer_erased(listed, copy)
    assert forget_again(keeper.ledger, [listed], LATER) == 1
    assert all(one.sale.record.person == "" for one in part_sales(keeper.ledger))
    assert forget_again(keeper.ledger, [listed], LATER) == 0
