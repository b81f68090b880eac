"""A wreck bought for 40 gives a display and cameras; one is used, one is sold. By pencil, to the cent.

Tax per part under the margin scheme (Dir. 2006/112/EC art. 311-325: only what is sold above its purchase
price is taxed, with rate / (1 + rate) of it; from memory, as in `tests/policy/problem/test_payoffs.py`);
sharing the purchase price out by worth is common practice, no source.
Amounts are invented.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from tests.workflows.at_the_desk import DAY, bought
from tests.workflows.looking_back.test_losses import closed, settings, sold, started
from triage.domain.job.records import Attempt, PartFate, PartOrdered
from triage.domain.shop.settings import Tax
from triage.domain.shop.shelf import PartLeft, PartReturned
from triage.ledger.export import write_csv
from triage.ledger.history.history_csv import read_history
from triage.ledger.history.history_rows import history_of, rows_of
from triage.ledger.opening import open_ledger
from triage.review.money.job_money import job_money
from triage.review.money.realised_margin import realised_margins
from triage.review.money.sold_parts import SALES_COLUMNS, sales_table
from triage.workflows.jobs.import_history import import_past_jobs, read_past_jobs
from triage.workflows.jobs.parts import order_part, part_fate, reserve_part
from triage.workflows.jobs.shelf import part_returned, part_sales, scrap, sell_part
from triage.workflows.jobs.stripping import TakenPart, strip
from triage.workflows.jobs.work import attempt

MARGIN, LATER = Tax("second-hand-margin", 0.2), DAY + timedelta(days=5)


def shelf(keeper):
    with keeper.ledger.reading() as reading:
        return {kept.record.part: kept for kept in reading.shelf()}


def stripped(keeper):
    """The wreck: 40.00, a display worth 60 and cameras worth 20, 25 minutes. Shares 30.00 and 10.00."""
    job = bought(keeper, price=4000)
    job.do(strip, DAY, [TakenPart("display", True, worth=60.0), TakenPart("cameras", worth=20.0)], "", 25.0)
    assert [kept.record.cost_minor for kept in shelf(keeper).values()] == [3000, 1000]
    return job


def sell_one(keeper, part="cameras", price=1750, fees=210):
    sale = PartLeft("sold", LATER, price_minor=price, fees_minor=fees, person="Ivo Quill")
    sell_part(keeper.ledger, keeper.catalogue, keeper.shop.settings, "ada", shelf(keeper)[part].id, sale)
    return part_sales(keeper.ledger)[0]


def mended(keeper):
    """Another job: bought for 50.00, the display goes in, 40 minutes, sold for 120.00."""
    job = started(keeper, price=5000)
    job.do(reserve_part, shelf(keeper)["display"].id, DAY, "the maker's tool, by Ada")
    job.do(part_fate, PartFate(job.file.orders[0].id, DAY, "fitted"))
    job.do(attempt, Attempt("port-pins-damaged", "fixed", "resolder-port", minutes=40))
    sold(job, 12000)
    return job


def file_of(keeper, job):
    with keeper.ledger.reading() as reading:
        return reading.job(job.file.id)


def money(keeper, job, tax=MARGIN):
    ours = sum(k.record.cost_minor for k in shelf(keeper).values() if k.record.donor == job.file.id)
    told = job_money(file_of(keeper, job), ours, tax)
    return {line.purpose or line.what: line.amount for line in told.lines}, told.total


def test_money_of_both_jobs_to_the_cent(keeper):
    wreck = stripped(keeper)
    assert money(keeper, wreck) == ({"purchase": -4000, "shelf-parts-left": 4000}, 0)
    other = mended(keeper)
    sell_one(keeper)
    # Tax of the cameras: (17.50 - 10.00) / 6 = 1.25. Left: 17.50 - 2.10 - 1.25 - 40 + 30 in the other job.
    assert money(keeper, wreck) == (
        {"purchase": -4000, "parts-sold": 1750, "part-fees": -210, "shelf-parts-left": 3000, "tax": -125},
        415,
    )
    # Tax of the device: (120 - 50) / 6 = 11.67; no part may be added to its purchase price.
    assert money(keeper, other) == (
        {"purchase": -5000, "sale": 12000, "shelf-parts-used": -3000, "tax": -1167},
        2833,
    )
    # Together the cash of both: 17.50 - 2.10 + 120 - 40 - 50 - 1.25 - 11.67.
    assert money(keeper, wreck)[1] + money(keeper, other)[1] == 3248


def test_tax_part_by_part_is_not_tax_on_the_sum(keeper):
    wreck = stripped(keeper)
    sell_one(keeper)
    sell_one(keeper, "display", 2500, 0)
    # 42.50 for a device of 40.00 is 0.42 of tax on the sum; the display lost 5 and the cameras made 7.50.
    assert money(keeper, wreck)[0]["tax"] == -125
    (row,) = rows_of(file_of(keeper, wreck))
    told = {name: row[name] for name in ("paid", "sold", "parts_value", "selling_fees", "parts_margin")}
    assert told == {
        "paid": "40.00", "sold": "42.50", "parts_value": "0.00", "selling_fees": "2.10",
        "parts_margin": "7.50",
    }  # fmt: skip
    assert row["strip_minutes"] == "25"


@pytest.mark.parametrize(
    ("tax", "due"),
    # Margin: (17.50 - 10) / 6. Standard: 17.50 / 6. Both by hand, not rounded.
    [(MARGIN, 1.25), (Tax("standard", 0.2), 17.5 / 6), (Tax("none", 0.0), 0.0)],
)
def test_the_money_review_counts_the_sale_its_fees_its_tax_and_the_minutes(keeper, tax, due):
    stripped(keeper)
    sell_one(keeper)
    books = replace(settings(keeper, selling_share=0.5, disposal=1.5), tax=tax)
    history = history_of(closed(keeper), keeper.catalogue)
    job = realised_margins(history, keeper.catalogue, books).money.iloc[0]
    # Sold 17.50, and the display, worth 60, is kept. Fees are those of the sale, not half of its price.
    assert (job["sold"], job["kept"], job["labour"]) == (17.5, 60.0, 12.5)
    assert (job["fees"], job["tax"]) == pytest.approx((2.1 + 1.5, due))
    assert job["margin"] == pytest.approx(17.5 + 60 - 40 - 12.5 - 3.6 - due)


def test_the_other_job_pays_what_the_wreck_is_credited(keeper):
    stripped(keeper)
    mended(keeper)
    margins = realised_margins(
        history_of(closed(keeper), keeper.catalogue), keeper.catalogue, settings(keeper)
    )
    # At worth: 80 - 40 - 12.50 for the wreck; 120 - 50 - 60 - 20 for the other.
    assert margins.money["margin"].tolist() == pytest.approx([27.5, -10.0])


@pytest.mark.parametrize(
    ("to", "refund", "lines", "kept"),
    [
        # All back, on the shelf: its share is stock again; only the fees are gone.
        ("shelf", 1750, {"part-fees": -210, "shelf-parts-left": 4000}, "80.00"),
        # All back, broken: the share of 10 is lost with it.
        ("scrapped", 1750, {"part-fees": -210, "shelf-parts-left": 3000}, "60.00"),
        # 5 back, kept by nobody: 12.50 - 10 of margin, of which 0.42 is tax.
        (
            "scrapped",
            500,
            {"parts-sold": 1250, "part-fees": -210, "shelf-parts-left": 3000, "tax": -42},
            "60.00",
        ),
    ],
)
def test_a_return_takes_back_price_and_tax(keeper, to, refund, lines, kept):
    wreck = stripped(keeper)
    sale = sell_one(keeper)
    part_returned(keeper.ledger, "ada", PartReturned(sale.sale.id, LATER, to, refund, "dim"))
    assert money(keeper, wreck)[0] == {"purchase": -4000, **lines}
    assert rows_of(file_of(keeper, wreck))[0]["parts_value"] == kept
    (told,) = part_sales(keeper.ledger)
    assert told.margin(MARGIN) == 1750 - refund - 210 - told.tax(MARGIN) - (0 if to == "shelf" else 1000)


def test_a_scrapped_part_is_no_longer_worth_anything(keeper):
    wreck = stripped(keeper)
    scrap(keeper.ledger, "ada", shelf(keeper)["display"].id, LATER, "fell")
    assert money(keeper, wreck)[0] == {"purchase": -4000, "shelf-parts-left": 1000}
    (row,) = rows_of(file_of(keeper, wreck))
    assert (row["sold"], row["parts_value"], row["parts_margin"]) == ("0.00", "20.00", "")


def test_parts_bought_for_a_job_and_their_tax(keeper):
    job = bought(keeper)
    for cost, tax in ((1000, 200), (500, 100)):
        job.do(order_part, PartOrdered("torch", "usual source", cost, tax))
    first, second = (kept.id for kept in job.file.orders)
    job.do(strip, DAY, [], orders={first: "cancelled", second: "keep"})
    job.do(part_fate, PartFate(second, LATER, "arrived"))
    # The first is cancelled and refunded whole; of the second, 6.00, the tax comes back.
    assert money(keeper, job)[0] == {"purchase": -4000, "parts-bought": -600, "input-tax": 100}
    job.do(part_fate, PartFate(second, LATER, "shelved"))
    assert money(keeper, job)[0] == {"purchase": -4000}  # stock now


def test_a_file_of_past_jobs_tells_the_same_money(keeper, tmp_path):
    stripped(keeper)
    sell_one(keeper)
    rows = [row for file in closed(keeper) for row in rows_of(file)]
    path = tmp_path / "jobs.csv"
    write_csv(rows, path)
    other = open_ledger(tmp_path / "other.sqlite")
    past = read_past_jobs(path.read_bytes(), path.name, keeper.catalogue, "EUR", today=LATER)
    import_past_jobs(past, other, "ada")
    with other.reading() as reading:
        again = [row for file in reading.jobs() for row in rows_of(file)]
    other.close()
    assert again == rows
    books = replace(settings(keeper), tax=MARGIN)
    margins = [
        realised_margins(history, keeper.catalogue, books).money["margin"].tolist()
        for history in (
            read_history(path, keeper.catalogue),
            history_of(closed(keeper), keeper.catalogue),
        )
    ]
    assert margins[0] == margins[1] == pytest.approx([17.5 + 60 - 40 - 12.5 - 2.1 - 1.25])


def test_the_table_of_sold_parts_names_no_buyer(keeper):
    stripped(keeper)
    sell_one(keeper)
    (row,) = sales_table(part_sales(keeper.ledger), MARGIN)
    assert tuple(row) == SALES_COLUMNS
    assert row == {
        "job": "J-0001", "part": "cameras", "fits": "K2", "sold_on": LATER.isoformat(), "currency": "EUR",
        "price": "17.50", "refund": "", "fees": "2.10", "share_of_cost": "10.00", "taxable_margin": "7.50",
        "tax": "1.25", "margin": "4.15", "returned_on": "", "returned_to": "",
    }  # fmt: skip
