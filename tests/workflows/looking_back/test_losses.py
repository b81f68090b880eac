"""What a job made, from the acts at the desk to the money review: no ending is left out of it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.workflows.at_the_desk import DAY, PORT_LINES, SOLD_LINES, bought
from triage.domain.job.records import Attempt, HandOver, PartFate
from triage.domain.shop.settings import Fees, Tax
from triage.ledger.history.history_rows import history_of, rows_of
from triage.review.money.money_review import money_review
from triage.review.money.realised_margin import realised_margins
from triage.workflows.jobs.ending import dispose, sell
from triage.workflows.jobs.parts import part_fate, reserve_part
from triage.workflows.jobs.record_keeper import move
from triage.workflows.jobs.stripping import TakenPart, strip
from triage.workflows.jobs.work import attempt

TRIED = Attempt("port-pins-damaged", "not-fixed", "resolder-port", minutes=30, parts_minor=500)


def started(keeper, price=4000):
    job = bought(keeper, price=price)
    job.do(move, "start", DAY)
    return job


def checked(job):
    job.check(*PORT_LINES, *SOLD_LINES)
    job.check("surface-temperature", reading=31.5, unit="°C")
    job.check("attended-charge", reading=1.4, unit="A")
    job.do(move, "verify", DAY)
    job.do(move, "make-ready", DAY)


def sold(job, price=15000):
    checked(job)
    job.do(sell, HandOver(DAY, "working", person="Cy Vane", wiped="reset, set-up screen shown"), price)


def settings(keeper, **fees):
    return replace(keeper.shop.settings, bench_rate=30.0, fees=Fees(**fees), tax=Tax("none", 0.0))


def closed(keeper):
    with keeper.ledger.reading() as reading:
        return reading.jobs()


def test_a_sold_a_stripped_and_a_disposed_unit_are_a_review_of_three_jobs(keeper):
    first = started(keeper)
    first.do(attempt, replace(TRIED, outcome="fixed"))
    sold(first)
    stripped = started(keeper)
    stripped.do(attempt, TRIED)
    stripped.do(strip, DAY, [TakenPart("charge-port", worth=12.0), TakenPart("display", worth=20.0)])
    gone = started(keeper)
    gone.do(attempt, TRIED)
    gone.do(dispose, DAY)
    history = history_of(closed(keeper), keeper.catalogue)
    assert history.jobs["ending"].tolist() == ["sold", "stripped", "disposed"]
    books = settings(keeper, disposal=2.0)
    margins = realised_margins(history, keeper.catalogue, books)
    # Each cost 40 to buy, 15 of labour and 5 of parts; disposal is 2 where the unit did not leave whole.
    assert margins.money["margin"].tolist() == pytest.approx([150 - 60, 32 - 60 - 2, -60 - 2])
    review = money_review(history, keeper.catalogue, books)
    assert (review.jobs, review.left_out) == (3, ())
    assert review.total == pytest.approx(90 - 30 - 62)


def test_parts_from_the_shelf_cost_what_their_donor_was_credited(keeper):
    donor = started(keeper, price=10000)
    donor.do(attempt, TRIED)
    donor.do(strip, DAY, [TakenPart("charge-port", tested=True, worth=12.0)])
    (shelf,) = [kept.id for kept in _shelf(keeper)]
    job = started(keeper)
    job.do(reserve_part, shelf, DAY, "the owner of the donor agreed")
    job.do(part_fate, PartFate(job.file.orders[0].id, DAY, "fitted"))
    job.do(attempt, Attempt("port-pins-damaged", "fixed", "resolder-port", minutes=30))
    sold(job)
    (row,) = rows_of(job.file)
    assert (row["parts_cost"], row["shelf_cost"]) == ("", "12.00")
    history = history_of(closed(keeper), keeper.catalogue)
    margins = realised_margins(history, keeper.catalogue, settings(keeper))
    assert margins.left_out == ()
    assert margins.money["margin"].tolist() == pytest.approx([12 - 100 - 15 - 5, 150 - 40 - 15 - 12])


def test_parts_without_a_known_value_leave_the_job_out_by_name(keeper):
    unpriced = replace(keeper.shop, prices=replace(keeper.shop.prices, part=(), model=()))
    job = started(replace(keeper, shop=unpriced))
    job.do(attempt, TRIED)
    job.do(strip, DAY, [TakenPart("charge-port")])
    margins = realised_margins(
        history_of(closed(keeper), keeper.catalogue), keeper.catalogue, settings(keeper)
    )
    assert margins.left_out == (("stripped, and no value of its parts", 1),)


def test_a_repair_done_again_is_one_finding_with_one_outcome(keeper):
    job = started(keeper)
    job.do(attempt, replace(TRIED, outcome="fixed"))
    job.check("attended-charge", reading=0.3, unit="A")
    job.do(attempt, replace(TRIED, outcome="fixed", parts_minor=0))
    sold(job)
    assert [row["outcome"] for row in rows_of(job.file)] == ["not-fixed", "fixed"]


def test_a_failed_final_check_is_learned_from_whatever_the_ending(keeper):
    job = started(keeper)
    job.do(attempt, replace(TRIED, outcome="fixed"))
    job.check("attended-charge", reading=0.3, unit="A")
    job.do(strip, DAY, [])
    assert [row["outcome"] for row in rows_of(job.file)] == ["not-fixed"]
    assert (rows_of(job.file)[0]["ending"], rows_of(job.file)[0]["parts_value"]) == ("stripped", "0.00")


def _shelf(keeper):
    with keeper.ledger.reading() as reading:
        return reading.shelf()
